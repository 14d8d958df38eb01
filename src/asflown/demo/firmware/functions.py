"""What marram 5.0 states of its optional functions and protocols (``functions.toml``)."""

FUNCTIONS = """\
base = 401408

[[function]]
name = "picture"
flash = 18432
description = "writing laid over the picture"

[[function]]
name = "lamps"
flash = 6144
description = "lamps with colours"

[[function]]
name = "wind"
flash = 4096
description = "wind reckoned from lean"

[[function]]
name = "lens"
flash = 9216
description = "camera servos"

[[protocol]]
name = "words of 300"
device = "speed controller"
role = "motor.protocol"
value = 2
dma = "needed"

[[protocol]]
name = "words of 600"
device = "speed controller"
role = "motor.protocol"
value = 3
dma = "needed"

[[protocol]]
name = "short pulse"
device = "speed controller"
role = "motor.protocol"
value = 1
dma = "no"

[[protocol]]
name = "pulse"
device = "speed controller"
role = "motor.protocol"
value = 0
dma = "no"

[[protocol]]
name = "long words"
device = "receiver"
role = "receiver.protocol"
value = 4
port_does = 1
baud = [115200, 420000]
dma = "better"

[[protocol]]
name = "fast words"
device = "receiver"
role = "receiver.protocol"
value = 3
port_does = 1
baud = 420000
dma = "better"

[[protocol]]
name = "sky words"
device = "satellite receiver"
port_does = 2
baud = [9600, 115200]
dma = "needed"

[[protocol]]
name = "diary"
device = "logger"
port_does = 4
baud = [57600, 921600]
dma = "better"

[[protocol]]
name = "lamp words"
device = "lamps"
dma = "needed"
function = "lamps"
"""
