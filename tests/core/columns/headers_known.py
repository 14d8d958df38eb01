"""Headers the reading of names and data was developed with."""

# A line without a unit ends in a colon.

KNOWN = {
    "canonical": """
time : time : s
rate_command*3 : rate_command.roll, rate_command.pitch, rate_command.yaw : rad/s
rate*3 : rate.roll, rate.pitch, rate.yaw : rad/s
control*3 : control.roll, control.pitch, control.yaw : -1..1
throttle : throttle : 0..1
motor*4 : motor.1, motor.2, motor.3, motor.4 : 0..1
pack_voltage : pack_voltage : V
pack_current : pack_current : A
attitude*3 : attitude.roll, attitude.pitch, attitude.yaw : rad
""",
    "units in names": """
time : t_s : s
rate_command*3 : cmd_p_dps, cmd_q_dps, cmd_r_dps : deg/s
rate*3 : gyro_x_dps, gyro_y_dps, gyro_z_dps : deg/s
accel*xyz : acc_x_g, acc_y_g, acc_z_g : g
motor*4 : m1_pct, m2_pct, m3_pct, m4_pct : %
rotor_speed*4 : rpm1, rpm2, rpm3, rpm4 : rpm
pack_voltage : vbat_V : V
pack_current : ibat_A : A
altitude : alt_m : m
""",
    "units in headers": """
time : Time : s : s
rate_command*3 : rate sp x, rate sp y, rate sp z : rad/s : rad s^-1
rate*3 : omega_x, omega_y, omega_z : rad/s : rad/s
attitude*3 : roll, pitch, yaw : deg : deg
pack_voltage : bus voltage : V : V
rotor_speed*4 : rotor speed 1, rotor speed 2, rotor speed 3, rotor speed 4 : rotor rad/s : rad/s
air_temperature : air temp : degC : degC
""",
    "no units": """
time : time : us
rate_command*3 : sp_roll_rate, sp_pitch_rate, sp_yaw_rate : deg/s
rate*3 : gyroX, gyroY, gyroZ : deg/s
accel*xyz : ax, ay, az : g
motor*4 : m1, m2, m3, m4 : us 1000..2000
throttle : throttle : us 1000..2000
pack_voltage : vbat : mV
pack_current : ibat : cA
mode : mode :
armed : armed :
""",
    "no units, radians": """
time : timestamp : ms
rate_command*3 : rate_cmd.roll, rate_cmd.pitch, rate_cmd.yaw : rad/s
rate*3 : p, q, r : rad/s
accel*xyz : accel_x, accel_y, accel_z : m/s2
motor*4 : motor[0], motor[1], motor[2], motor[3] : 0..1
control*3 : torque_x, torque_y, torque_z : -1..1
pack_voltage : voltage : cV
""",
    "counted": """
#rows : loop iteration :
time : time_us : us
rate_command*3 : setpoint[0], setpoint[1], setpoint[2] : deg/s
rate*3 : gyro[0], gyro[1], gyro[2] : deg/s
accel*xyz : acc[0], acc[1], acc[2] : mg
stick*3 : stick roll, stick pitch, stick yaw : -500..500
motor*4 : esc_us 1, esc_us 2, esc_us 3, esc_us 4 : us 1000..2000
failsafe : failsafe :
""",
    "row number and noise": """
#rows : sample :
time : t : s
#noise : mag_x :
rate*3 : body rate x, body rate y, body rate z : rad/s
rate_command*3 : demand x, demand y, demand z : rad/s
#constant : imu temp :
motor*4 : motorFL, motorFR, motorRL, motorRR : 0..1
""",
    "letters": """
time : a : s
rate_command*3 : b, c, d : rad/s
rate*3 : e, f, g : rad/s
motor*4 : h, i, j, k : us 1000..2000
pack_voltage : l : V
""",
}
