"""A simulated quadrotor: six degrees of freedom, rotors, sensors with their errors, and telemetry."""
