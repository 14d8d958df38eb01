"""Headers written before any result on them was seen.

At first sight 461 of 537 columns were right (three flights each), 3 wrong, 73 left open, 3 of none taken.

A line is ``signal : columns : unit of the numbers [: unit in the header]``; one without a unit ends in a colon.
"""

BLIND = {
    "thesis": """
time : simulation time : s : s
rate_command*3 : omega_ref_x, omega_ref_y, omega_ref_z : rad/s : rad/s
rate*3 : omega_meas_x, omega_meas_y, omega_meas_z : rad/s : rad/s
control*3 : tau_x, tau_y, tau_z : -1..1
rotor_speed*4 : rotor_1_speed, rotor_2_speed, rotor_3_speed, rotor_4_speed : rotor rad/s : rad/s
attitude*3 : eul_phi, eul_theta, eul_psi : rad : rad
""",
    "logger card": """
#rows : n :
time : millis : ms
rate*3 : gx, gy, gz : deg/s
accel*xyz : ax, ay, az : g
motor*4 : esc1, esc2, esc3, esc4 : us 1000..2000
stick*3 : ch_roll, ch_pitch, ch_yaw : stick us
stick.throttle : ch_throttle : stick us
pack_voltage : v_bat : V
""",
    "upper case": """
time : TIME_S : s
rate_command*3 : ROLL_RATE_CMD, PITCH_RATE_CMD, YAW_RATE_CMD : deg/s
rate*3 : ROLL_RATE, PITCH_RATE, YAW_RATE : deg/s
attitude*3 : ROLL_ANGLE, PITCH_ANGLE, YAW_ANGLE : deg
throttle : THROTTLE_PCT : %
motor*4 : MOTOR_1, MOTOR_2, MOTOR_3, MOTOR_4 : %
pack_voltage : BATT_VOLT : V
pack_current : BATT_CURR : A
altitude : BARO_ALT : m
air_temperature : AMBIENT_TEMP : degC
mode : FLIGHT_MODE :
""",
    "sets with dots": """
time : log.time : us
rate_command*3 : target.rate.x, target.rate.y, target.rate.z : rad/s
rate*3 : body.rate.x, body.rate.y, body.rate.z : rad/s
motor*4 : mix.out.0, mix.out.1, mix.out.2, mix.out.3 : 0..1
rotor_speed*4 : esc.rpm.0, esc.rpm.1, esc.rpm.2, esc.rpm.3 : rpm
pack_voltage : battery.volt : V
pack_current : battery.amp : A
#load : scheduler.load :
""",
    "english sentences": """
time : Time since power on : s : s
rate*3 : Measured roll rate, Measured pitch rate, Measured yaw rate : deg/s : °/s
rate_command*3 : Wanted roll rate, Wanted pitch rate, Wanted yaw rate : deg/s : °/s
throttle : Throttle position : % : %
pack_voltage : Voltage of the battery : V : Volt
pack_current : Current drawn : A : Amps
armed : Motors armed :
""",
    "brackets and axes": """
time : t : ms : ms
rate*3 : gyro[x], gyro[y], gyro[z] : rad/s
rate_command*3 : gyro_sp[x], gyro_sp[y], gyro_sp[z] : rad/s
accel*xyz : accel[x], accel[y], accel[z] : m/s2
motor*4 : mot(1), mot(2), mot(3), mot(4) : 0..1
""",
    "short": """
time : t : s
rate*3 : p, q, r : deg/s
rate_command*3 : pc, qc, rc : deg/s
motor*4 : m0, m1, m2, m3 : 0..1
pack_voltage : vb : V
""",
    "camel with units": """
time : timeUs : us
rate_command*3 : rateSetpointRollDps, rateSetpointPitchDps, rateSetpointYawDps : deg/s
rate*3 : gyroRollDps, gyroPitchDps, gyroYawDps : deg/s
accel*xyz : accelXG, accelYG, accelZG : g
rotor_speed*4 : motorRpm1, motorRpm2, motorRpm3, motorRpm4 : rpm
motor*4 : motorOutput1, motorOutput2, motorOutput3, motorOutput4 : 0..1000
pack_voltage : batteryMv : mV
""",
    "only rates": """
time : epoch : ms
rate*3 : rot_x, rot_y, rot_z : rad/s
rate_command*3 : rot_x_goal, rot_y_goal, rot_z_goal : rad/s
""",
    "unnamed": """
time : x0 : us
rate*3 : x1, x2, x3 : deg/s
accel*xyz : x4, x5, x6 : g
rate_command*3 : x7, x8, x9 : deg/s
motor*4 : x10, x11, x12, x13 : %
pack_voltage : x14 : mV
""",
    "field names": """
time : Field1 : s
rate_command*3 : Field2, Field3, Field4 : rad/s
rate*3 : Field5, Field6, Field7 : rad/s
throttle : Field8 : 0..1
motor*4 : Field9, Field10, Field11, Field12 : 0..1
rotor_speed*4 : Field13, Field14, Field15, Field16 : rev/s
attitude*3 : Field17, Field18, Field19 : rad
""",
    "survey crew": """
time : GNSS time : s : s
attitude*3 : Roll, Pitch, Heading : deg : deg
rate*3 : Roll rate, Pitch rate, Yaw rate : deg/s : deg/s
altitude : Altitude AGL : m : m
pack_voltage : Pack volts : V
pack_current : Pack amps : A
air_pressure : QFE : hPa : hPa
mode : Mode :
""",
}
