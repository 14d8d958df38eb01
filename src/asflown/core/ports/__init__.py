"""What a board can carry at the same time: ports, timers, DMA streams, flash; and why not."""
