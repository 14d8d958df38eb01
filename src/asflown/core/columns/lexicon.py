"""Words of the trade in column names, and what each speaks for. Common practice, no source.

A weight is a natural log odds against "something else". A family that is no canonical signal begins with
``other`` and says what the column is instead.
"""

from __future__ import annotations

Votes = dict[str, float]


def _words(text: str) -> tuple[str, ...]:
    return tuple(text.split())


def _table(text: str) -> dict[str, Votes]:
    """Lines ``words : family weight, family weight``."""
    made: dict[str, Votes] = {}
    for line in filter(None, map(str.strip, text.splitlines())):
        words, _, votes = line.partition(":")
        parsed = {}
        for vote in votes.split(","):
            family, _, weight = vote.strip().rpartition(" ")
            parsed[family] = float(weight)
        made.update({word: parsed for word in words.split()})
    return made


VOTES: dict[str, Votes] = _table("""
gyro gyr gyros gyroscope : rate 5
omega : rate 3.5, rotor_speed 1
rate rates : rate 4
angular ang turn : rate 2
angvel bodyrate bodyrates : rate 4.5
accel acc accelerometer acceleration accelerations accels : accel 5
specific force : accel 2
throttle thr thro throt : throttle 5
collective coll : throttle 4.5
thrust : throttle 2.5
motor mot motors mtr engine : motor 4.5
esc escs : motor 3.5
pwm : motor 2, stick 1
duty : motor 3
rotor prop propeller : motor 1.5, rotor_speed 2.5
output outputs out : motor 1.2, control 1.2
actuator act : motor 1.5, control 0.5
servo : motor 0.5
rpm erpm tacho rotorspeed : rotor_speed 5
rps : rotor_speed 4
revs rev : rotor_speed 2
speed : rotor_speed 1.5, velocity 1.5
voltage volt volts : pack_voltage 4
bat batt battery pack bus supply lipo accu main : pack_voltage 0.8, pack_current 0.8
current curr amp amps amperage cur : pack_current 4
stick sticks : stick 5
rc joystick radio transmitter : stick 4
pilot : stick 3.5
channel chan ch : stick 3
input inputs : stick 1.2
attitude att euler eul orientation : attitude 5
angle angles ang : attitude 3.5
phi theta psi heading hdg : attitude 4
roll pitch yaw rol pit : attitude 1.5, rate 0.5, control 0.2
alt altitude height agl hgt elevation : altitude 5
baro barometer barometric : altitude 1.2, air_pressure 1.2, air_temperature 1
pos position : position 4
north east : position 2.5
up : altitude 1.5
vel velocity : velocity 4
temperature temp : air_temperature 2.5
air ambient outside oat : air_temperature 2, air_pressure 1
pressure press : air_pressure 4.5
control ctrl controller ctl : control 3.5
torque moment effort tau : control 4
pid : control 2.5
mixer mix : control 1.5
mode modes : mode 4.5
flight : mode 0.4
state status : mode 1.5
armed arm arming disarmed is_armed : armed 5
failsafe : failsafe 6
fail lost : failsafe 2
event events message note msg text remark comment : event 4
time timestamp clock uptime elapsed stamp datetime : time 5
seconds millis micros secs millisecond microseconds nanos : time 4
date : time 3
tick ticks : time 2.5
loop loops iteration iter cycle : time 0.3, other:row_number 1.5
row sample index idx seq sequence count counter frame number nr no line : other:row_number 3.5
mag magnetometer compass magnetic : other:magnetic_field 6
quat quaternion quaternions : other:quaternion 7
gps gnss lat lon latitude longitude satellites sats hdop fix : other:navigation 6
error err deviation residual innovation : other:error 5
integral integrator feedforward : other:controller_term 6
ff proportional derivative integ term : other:controller_term 6
bias std var variance sigma covariance noise : other:statistic 5
rssi link snr lq : other:link 6
power watt watts energy consumed mah capacity remaining charge used soc : other:energy 5
load cpu duration latency jitter overrun : other:load 5
debug dbg spare reserved : other:spare 6
crc checksum : other:checksum 6
cell cells : other:cell_voltage 3
imu board cpu mcu core : other:board 0.5
wind airspeed ias tas : other:air_data 6
jerk snap : other:derivative 5
distance range lidar sonar flow : other:ranging 5
vibe vibration clip clipping : other:vibration 5
""")

#: Words that a value was asked for, and that it was measured.
COMMAND = frozenset(
    _words(
        "cmd command commanded commands sp setpoint setpoints set demand demanded dem desired des target "
        "targets tgt targ ref reference want wanted wish goal request requested req"
    )
)
MEASURED = frozenset(
    _words(
        "meas measured measurement actual est estimated estimate filt filtered true fb feedback sensor "
        "body lpf smooth"
    )
)
#: Families of which a commanded value is another thing than the signal.
COMMANDED_IS_OTHER = frozenset({"attitude", "accel", "velocity", "position", "altitude"})

#: Words of an axis; the single letters count only beside what they may belong to.
AXIS = {
    **dict.fromkeys(_words("roll rol x p phi ail aileron ailerons lateral"), 0),
    **dict.fromkeys(_words("pitch pit y q theta ele elevator elev longitudinal"), 1),
    **dict.fromkeys(_words("yaw z r psi heading hdg rud rudder directional"), 2),
}
#: Letters that name the channel of a stick set.
CORNERS = frozenset({"fl", "fr", "rl", "rr", "bl", "br", "front", "rear", "back", "left", "right", "mid"})

#: Short words, written out. The single letters count only where no other word says what the column is.
SHORT: dict[str, str] = {
    "t": "time",
    "ts": "time stamp",
    "tstamp": "time stamp",
    "p": "rate roll",
    "q": "rate pitch",
    "r": "rate yaw",
    "v": "voltage",
    "i": "current",
    "h": "height",
    "u": "control",
    "n": "rotor rpm",
    "m": "motor",
    "w": "omega",
    "thr": "throttle",
    "fs": "failsafe",
    **{f"a{axis}": f"accel {axis}" for axis in "xyz"},
    **{f"g{axis}": f"gyro {axis}" for axis in "xyz"},
    **{f"w{axis}": f"omega {axis}" for axis in "xyz"},
    **{f"v{axis}": f"velocity {axis}" for axis in "xyz"},
    "phidot": "rate roll",
    "thetadot": "rate pitch",
    "psidot": "rate yaw",
    **{f"q{b}": f"quaternion {b}" for b in "wxyz"},
    "vn": "velocity north",
    "ve": "velocity east",
    "vd": "velocity down",
    "vu": "velocity up",
    "px": "position x",
    "py": "position y",
    "pz": "position z",
}  # fmt: skip

#: Single letters beside an axis (``a_x``).
BESIDE_AXIS = {"a": "accel", "w": "omega", "g": "gyro", "u": "control", "v": "velocity", "f": "force"}

#: First letters that make a quantity of a pack word (``vbat``).
PREFIXES = {"v": "voltage", "u": "voltage", "i": "current"}
PREFIXED = frozenset(_words("bat batt battery bus pack lipo supply main"))

#: Words that stand joined to another without a sign between them (``vbat``, ``gyrox``).
JOINED = frozenset(
    word
    for word in (*VOTES, *COMMAND, *MEASURED, "roll", "pitch", "yaw", "north", "east", "down", "up", "stick")
    if len(word) >= 3
)
