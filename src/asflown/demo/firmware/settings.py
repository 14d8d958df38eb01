"""The settings of marram 4.1, group by group.

Naming: *thing.quality*, plain words joined by points. ``roll``, ``nod`` and ``swing`` are the three turning
axes, ``lift`` the fourth stick. A loop has ``firm`` (answers the error), ``stay`` (answers what remains),
``calm`` (answers the change) and ``lead`` (answers the stick).
"""

from __future__ import annotations

from asflown.demo.firmware.parameter import Parameter, table

#: The three handling sets a pilot switches between.
SETS = ("set 1", "set 2", "set 3")


def tables() -> tuple[Parameter, ...]:
    """Every parameter of marram 4.1, without the facts of :mod:`asflown.demo.firmware.facts`."""
    return (
        *_motors(),
        *_silence(),
        *_radio(),
        *_switches(),
        *_pack(),
        *_senses(),
        *_shake(),
        *_station(),
        *_place(),
        *_sticks(),
        *_notices(),
        *_picture(),
        *_ports(),
        *_diary(),
        *_lens(),
        *_sets(),
        *_turning(),
    )


def _motors() -> tuple[Parameter, ...]:
    return table(
        "motors",
        "safety airframe",
        """
motor.idle         | u16 | 55   | 20..200    | permille |                  | least drive of a turning motor
motor.top          | u16 | 1000 | 500..1000  | permille |                  | most drive of a motor
motor.talk         | u8  | 2    | 0..3       |          | safety device    | how drive is told to the speed controllers
motor.talk.rate    | u16 | 480  | 50..4000   | Hz       | safety device    | how often drive is told to the speed controllers
motor.magnets      | u8  | 14   | 2..60      |          | handling airframe | magnets of one motor
motor.flip         | u8  | 0    | 0..1       |          | safety airframe  | whether all motors turn the other way round
motor.{a,b,c,d}.pin | u8 | 1 2 3 4 | 0..8    |          | safety wiring    | board output that drives motor *
motor.{a,b,c,d}.way | u8 | 0 1 0 1 | 0..1    |          | safety airframe  | way round motor * turns
motor.{a,b,c,d}.add | i8 | 0    | -20..20    | permille | handling airframe | drive added to motor * alone
mix.{roll,nod,swing} | u8 | 100 100 80 | 0..150 | %     | handling airframe | share of * in the mix
mix.first          | u8  | 0    | 0..1       |          | handling airframe | what gives way when a motor is at its most
sag.lift           | u8  | 1    | 0..1       |          | handling airframe | whether drive rises as the pack empties
spin.up.time       | u16 | 5    | 0..50      | 0.1s     | safety airframe  | time over which the motors come up to idle
jam.stop           | u16 | 12   | 0..60      | 0.1s     | safety airframe  | time after which a jammed motor is stopped
""",
    )


def _silence() -> tuple[Parameter, ...]:
    return table(
        "silence",
        "safety pilot",
        """
silent.wait        | u16 | 10   | 2..100     | 0.1s     |  | time without a radio word before the aircraft acts by itself
silent.act         | u8  | 1    | 0..3       |          |  | what the aircraft does by itself when the radio is silent
silent.lift        | u16 | 340  | 0..700     | permille | safety airframe | drive held while it comes down by itself
silent.shut        | u16 | 20   | 0..120     | s        |  | time after which the motors stop while it comes down
silent.climb       | u16 | 0    | 0..120     | m        |  | height gained first when it comes home by itself
silent.back        | u16 | 15   | 0..100     | 0.1s     |  | time the radio must be back before the pilot has it again
silent.near        | u16 | 20   | 0..200     | m        |  | distance from home within which it lands where it is
{roll,nod,swing,lift}.silent | u16 | 1500 1500 1500 980 | 880..2120 | us |  | stick * assumed while the radio is silent
lean.cut           | u16 | 0    | 0..180     | deg      |  | lean at which the motors are stopped
fall.cut           | u16 | 0    | 0..50      | 0.1s     |  | time of free fall after which the motors are stopped
ready.checks       | u16 | 31   | 0..127     |          |  | what is checked before the motors may turn
ready.lean         | u8  | 25   | 5..90      | deg      |  | most lean at which the motors may be made ready
ready.lift         | u16 | 1050 | 900..1300  | us       |  | highest lift stick at which the motors may be made ready
ready.quiet        | u8  | 0    | 0..60      | s        |  | time at idle after which the motors are stopped
""",
    )


def _radio() -> tuple[Parameter, ...]:
    return table(
        "radio",
        "safety device",
        """
radio.kind         | u8  | 3    | 0..5       |          |  | what the receiver speaks
radio.flip         | u8  | 0    | 0..1       |          | safety wiring | whether the receiver's line is inverted
radio.port         | u8  | 2    | 0..6       |          | safety wiring | serial port the receiver is on
radio.words        | u16 | 100  | 20..500    | Hz       |  | radio words expected in a second
radio.smooth       | u8  | 1    | 0..2       |          | handling pilot | how stick steps are smoothed
radio.smooth.hz    | u16 | 60   | 0..250     | Hz       | handling pilot | above this stick movements are smoothed away
radio.bars.warn    | u8  | 45   | 0..100     | %        | safety pilot  | radio strength at which the pilot is warned
radio.bars.from    | u8  | 0    | 0..16      |          | comfort device | channel the radio strength comes on
radio.low          | u16 | 885  | 800..1000  | us       |  | shortest stick pulse taken as one
radio.high         | u16 | 2115 | 2000..2300 | us       |  | longest stick pulse taken as one
radio.pair.word    | u32 | 0    | 0..4294967295 |       |  | word that binds receiver and transmitter
radio.pair.on      | u8  | 0    | 0..1       |          |  | whether the receiver may be bound anew
tell.back          | u8  | 1    | 0..3       |          | comfort device | what is told back to the transmitter
tell.back.every    | u16 | 20   | 1..100     | 0.1s     | comfort device | time between two reports to the transmitter
stick.order        | u8  | 1 2 3 4 5 6 7 8 | 1..16 |    |  | channel each stick and switch comes on
""",
    )


def _switches() -> tuple[Parameter, ...]:
    return table(
        "switches",
        "safety pilot",
        """
switch.{a,b,c,d,e,f}.does | u8 | 1 0 0 0 0 0 | 0..11 |   |  | what switch * does
switch.{a,b,c,d,e,f}.on   | u8 | 5 6 7 8 9 10 | 1..16 |  | safety device | channel switch * comes on
switch.{a,b,c,d,e,f}.from | u16 | 1700 | 880..2120 | us  | safety device | pulse from which switch * is on
switch.{a,b,c,d,e,f}.to   | u16 | 2100 | 880..2120 | us  | safety device | pulse up to which switch * is on
""",
    )


def _pack() -> tuple[Parameter, ...]:
    return table(
        "pack",
        "safety airframe",
        """
pack.cells         | u8  | 4    | 1..8       |          |  | cells of the pack in series
pack.warn          | u16 | 136  | 20..400    | 0.1V     |  | pack voltage at which the pilot is warned
pack.warn.for      | u16 | 20   | 1..100     | 0.1s     |  | time the voltage must be low before the warning
charge.full        | u16 | 2200 | 100..30000 | mAh      |  | charge of a full pack
charge.land        | u8  | 25   | 0..60      | %        |  | charge left at which it is time to land
charge.from        | u8  | 1    | 0..2       |          |  | what the charge is reckoned from
volt.scale         | u16 | 1100 | 500..2000  | permille | safety board | voltage shown for a thousand measured
volt.pin           | u8  | 1    | 0..4       |          | safety wiring | board input the voltage is measured on
volt.smooth        | u16 | 5    | 0..50      | 0.1Hz    | comfort airframe | above this voltage changes are smoothed away
amp.scale          | u16 | 250  | 1..2000    |          | safety device | steps of the current sensor in one ampere
amp.zero           | i16 | 0    | -2000..2000 |         | safety device | reading of the current sensor at no current
amp.pin            | u8  | 2    | 0..4       |          | safety wiring | board input the current is measured on
amp.most           | u16 | 0    | 0..200     | A        |  | current at which drive is held back
pack.ohm           | u16 | 0    | 0..500     |          | comfort airframe | resistance of the pack, thousandths of an ohm
""",
    )


def _senses() -> tuple[Parameter, ...]:
    return table(
        "senses",
        "safety board",
        """
mount.{roll,nod,swing} | i16 | 0 | -180..360 | deg      | safety wiring | how the board is turned about * in the airframe
level.{roll,nod}   | i16 | 0    | -300..300  | 0.1deg   |  | lean about * shown when the aircraft stands level
still.{roll,nod,swing} | i16 | 0 | -4000..4000 |        |  | turn about * shown when the aircraft stands still
needle.{x,y,z}     | i16 | 0    | -2000..2000 |         |  | field along * the airframe itself makes
needle.turn        | i16 | 0    | -180..360  | deg      | safety wiring | how the compass is turned in the airframe
needle.use         | u8  | 1    | 0..1       |          | safety device | whether the compass is used
needle.north       | i16 | 0    | -300..300  | 0.1deg   | handling place | angle from compass north to true north
turn.rate          | u16 | 2000 | 500..8000  | Hz       | handling board | how often the turning sensor is read
turn.span          | u8  | 2    | 0..3       |          | handling board | span of the turning sensor
push.trust         | f4  | 0.0625 | 0.0..1.0 |          | handling airframe | how far the push sensor is believed against the turning sensor
push.span          | u8  | 1    | 0..3       |          | handling board | span of the push sensor
push.bumps         | f2  | 1.25 | 0.5..4.0   | gn       | handling airframe | push beyond which the push sensor is not believed
air.use            | u8  | 1    | 0..1       |          | safety device | whether the air pressure sensor is used
air.smooth         | f3  | 0.25 | 0.0..1.0   |          | handling device | how much the height from air pressure is smoothed
warm.wait          | u8  | 0    | 0..120     | s        | comfort board | time the sensors warm up before they are read
""",
    )


def _shake() -> tuple[Parameter, ...]:
    return table(
        "shake",
        "handling airframe",
        """
shake.cut          | u8  | 1    | 0..3       |          |  | kind of the filter that takes out shaking
shake.cut.hz       | u16 | 110  | 0..500     | Hz       |  | above this shaking is taken out
shake.calm         | u8  | 1    | 0..3       |          |  | kind of the filter before the calm term
shake.calm.hz      | u16 | 90   | 0..500     | Hz       |  | above this shaking is taken out before the calm term
hum.use            | u8  | 0    | 0..2       |          |  | how the motors' hum is taken out
hum.{a,b,c}.hz     | u16 | 0    | 0..900     | Hz       |  | frequency of hum * that is taken out
hum.{a,b,c}.wide   | u16 | 30   | 5..200     | Hz       |  | how wide hum * is taken out
hum.low            | u16 | 80   | 20..400    | Hz       |  | lowest hum that is followed
hum.high           | u16 | 420  | 100..900   | Hz       |  | highest hum that is followed
hum.count          | u8  | 2    | 1..5       |          |  | how many multiples of the hum are taken out
swing.cut.hz       | u16 | 60   | 0..300     | Hz       |  | above this shaking is taken out of swing alone
""",
    )


def _station() -> tuple[Parameter, ...]:
    return table(
        "station",
        "handling airframe",
        """
hold.firm          | f4  | 0.75 | 0.0..4.0   |          |  | how firmly the place is held
hold.stay          | f4  | 0.125 | 0.0..2.0  |          |  | how firmly what remains of a place error is held
hold.calm          | f4  | 0.0625 | 0.0..1.0 |          |  | how much the place hold is calmed
hold.quick         | u16 | 500  | 50..1500   | cm/s     | handling pilot | fastest way over ground while holding
hold.lean          | u8  | 30   | 5..45      | deg      |  | most lean while holding
hold.rest          | u16 | 20   | 0..200     | us       | handling pilot | stick movement that is no wish while holding
high.firm          | f4  | 1.5  | 0.0..6.0   |          |  | how firmly the height is held
high.stay          | f4  | 0.5  | 0.0..4.0   |          |  | how firmly what remains of a height error is held
high.calm          | f4  | 0.125 | 0.0..2.0  |          |  | how much the height hold is calmed
rise.quick         | u16 | 250  | 20..1000   | cm/s     | handling pilot | fastest way up
sink.quick         | u16 | 150  | 20..600    | cm/s     | safety pilot  | fastest way down
land.sink          | u16 | 60   | 20..150    | cm/s     | safety airframe | way down in the last metres of a landing
land.slow.at       | u16 | 600  | 100..3000  | cm       | safety airframe | height at which a landing slows down
land.sure          | u16 | 15   | 5..100     | 0.1s     | safety airframe | time on the ground after which the motors stop
home.high          | u16 | 25   | 5..120     | m        | safety place  | height held on the way home
home.quick         | u16 | 600  | 100..1500  | cm/s     | handling pilot | way over ground on the way home
home.nose          | u8  | 1    | 0..2       |          | comfort pilot | where the nose points on the way home
lift.hover         | u16 | 420  | 150..800   | permille |  | drive that holds the aircraft in the air
""",
    )


def _place() -> tuple[Parameter, ...]:
    return table(
        "place",
        "safety place",
        """
sky.kind           | u8  | 1    | 0..2       |          | safety device | what the satellite receiver speaks
sky.port           | u8  | 3    | 0..6       |          | safety wiring | serial port the satellite receiver is on
sky.least          | u8  | 8    | 4..20      |          | safety pilot  | satellites needed before a place is believed
sky.blur           | u16 | 200  | 50..900    | cm       | safety pilot  | most uncertainty of a place that is believed
home.north         | i32 | 0    | -900000000..900000000 | | safety place | latitude of home, ten-millionths of a degree
home.east          | i32 | 0    | -1800000000..1800000000 | | safety place | longitude of home, ten-millionths of a degree
home.take          | u8  | 1    | 0..2       |          | safety pilot  | when home is taken anew
dist.unit          | u8  | 0    | 0..1       |          | safety pilot  | unit of the bounds' distances
bound.far          | u16 | 300  | 0..3000    |          |  | farthest way from home
bound.top          | u16 | 120  | 0..400     |          |  | greatest height over home
bound.act          | u8  | 1    | 0..3       |          | safety pilot  | what the aircraft does at a bound
""",
    )


def _sticks() -> tuple[Parameter, ...]:
    return table(
        "sticks",
        "handling pilot",
        """
{roll,nod,swing,lift}.stick.mid  | u16 | 1500 | 1300..1700 | us | safety device | pulse of stick * in the middle
{roll,nod,swing,lift}.stick.low  | u16 | 1000 | 880..1300  | us | safety device | pulse of stick * at its least
{roll,nod,swing,lift}.stick.top  | u16 | 2000 | 1700..2120 | us | safety device | pulse of stick * at its most
{roll,nod,swing,lift}.stick.way  | u8  | 0    | 0..1       |    | safety device | whether stick * counts the other way round
{roll,nod,swing}.rest      | u8  | 4    | 0..40      | us       |  | movement of stick * that is no wish
lift.bend          | u8  | 40   | 0..100     | %        |  | how much the lift stick is softened around the hover
lift.bend.at       | u8  | 45   | 10..90     | %        |  | place of the lift stick that is softest
lift.most          | u8  | 100  | 50..100    | %        |  | drive at full lift stick
""",
    )


def _notices() -> tuple[Parameter, ...]:
    return table(
        "notices",
        "comfort pilot",
        """
chirp.on           | u16 | 63   | 0..255     |          |  | what the sounder tells
chirp.loud         | u8  | 70   | 0..100     | %        |  | loudness of the sounder
chirp.lost         | u16 | 120  | 0..900     | s        |  | time after which a lost aircraft calls
lamp.use           | u8  | 1    | 0..1       |          |  | whether the lamps are on
lamp.bright        | u8  | 60   | 0..100     | %        |  | brightness of the lamps
lamp.{a,b,c,d}.hue | u16 | 120 120 0 0 | 0..359 | deg   |  | colour of lamp *
lamp.{a,b,c,d}.does | u8 | 1    | 0..4       |          |  | what lamp * shows
lamp.pin           | u8  | 6    | 0..8       |          | comfort wiring | board output of the lamps
lamp.beat          | u16 | 10   | 1..100     | 0.1s     |  | time of one flash
""",
    )


def _picture() -> tuple[Parameter, ...]:
    items = "{volt,amp,charge,clock,high,home,lean,bars,warn,fast}"
    columns = "2 2 2 24 24 12 13 24 9 20"
    rows = "13 12 11 13 6 2 7 1 4 6"
    return table(
        "picture",
        "comfort pilot",
        f"""
show.use           | u8  | 1    | 0..1       |          |  | whether writing is laid over the picture
show.wide          | u8  | 0    | 0..2       |          | comfort device | form of the picture
show.{items}.on  | u8 | 1 1 1 1 1 1 0 1 1 0 | 0..1 |  |  | whether * is written over the picture
show.{items}.col | u8 | {columns} | 0..29 |  |  | column of * in the picture
show.{items}.row | u8 | {rows} | 0..15 |  |  | row of * in the picture
""",
    )


def _ports() -> tuple[Parameter, ...]:
    return table(
        "ports",
        "safety wiring",
        """
port.{a,b,c,d,e,f}.does | u8 | 0 1 2 0 4 0 | 0..6 |     |  | what serial port * is for
port.{a,b,c,d,e,f}.rate | u32 | 115200 420000 115200 115200 57600 115200 | 1200..921600 | |  | symbols a second on serial port *
""",
    )


def _diary() -> tuple[Parameter, ...]:
    return table(
        "diary",
        "none pilot",
        """
diary.use          | u8  | 1    | 0..2       |          |  | when the flight diary is kept
diary.every        | u16 | 4    | 1..100     | ms       |  | time between two lines of the diary
diary.of           | u16 | 7    | 0..63      |          |  | what the diary holds
diary.keep         | u8  | 20   | 1..99      |          |  | flights kept in the diary
craft.number       | u16 | 0    | 0..9999    |          | none airframe | number of the aircraft in its group
craft.hours        | u32 | 0    | 0..4294967295 | min   | none airframe | minutes flown
craft.flights      | u32 | 0    | 0..4294967295 |       | none airframe | flights flown
""",
    )


def _lens() -> tuple[Parameter, ...]:
    return table(
        "lens",
        "comfort airframe",
        """
lens.{tilt,pan}.mid  | u16 | 1500 | 900..2100 | us      |  | pulse of the camera's * in the middle
lens.{tilt,pan}.low  | u16 | 1100 | 900..2100 | us      |  | pulse of the camera's * at its least
lens.{tilt,pan}.top  | u16 | 1900 | 900..2100 | us      |  | pulse of the camera's * at its most
lens.{tilt,pan}.pin  | u8  | 0    | 0..8       |        | comfort wiring | board output of the camera's *
lens.{tilt,pan}.on   | u8  | 0    | 0..16      |        | comfort pilot | channel the camera's * comes on
lens.steady        | u8  | 0    | 0..1       |          |  | whether the camera is kept level
lens.quick         | u16 | 60   | 5..300     | deg/s    |  | fastest turn of the camera
snap.every         | u16 | 0    | 0..600     | 0.1s     |  | time between two pictures
snap.pin           | u8  | 0    | 0..8       |          | comfort wiring | board output that takes a picture
snap.long          | u16 | 100  | 10..2000   | ms       |  | how long the picture line is held
""",
    )


def _sets() -> tuple[Parameter, ...]:
    return table(
        "sets",
        "handling pilot",
        """
set.in.use         | u8  | 1    | 1..3       |          |  | which of the three handling sets is flown
""",
    )


def _turning() -> tuple[Parameter, ...]:
    return table(
        "turning",
        "handling airframe",
        """
{roll,nod,swing}.firm  | f6 | 0.1875 0.1875 0.25 | 0.0..2.0 |  |  | how firmly * answers an error of turning
{roll,nod,swing}.stay  | f6 | 0.25 0.25 0.125 | 0.0..2.0 |     |  | how firmly * answers what remains of an error
{roll,nod,swing}.calm  | f8 | 0.0078125 0.0078125 0.0 | 0.0..0.125 | |  | how much * is calmed by the change of turning
{roll,nod,swing}.lead  | f6 | 0.125 0.125 0.0625 | 0.0..1.0 |  |  | how much * follows the stick ahead of the error
{roll,nod,swing}.stay.most | u8 | 25 25 20 | 0..100   | %      |  | most drive for what remains of an error in *
{roll,nod,swing}.quick | u16 | 360 360 180 | 30..1200 | deg/s  | handling pilot | fastest turn about * at full stick
{roll,nod,swing}.bend  | u8 | 35 35 25 | 0..100      | %        | handling pilot | how much stick * is softened in the middle
lean.firm          | f2  | 5.5  | 0.5..12.0  |          |  | how firmly lean is held
lean.most          | u8  | 40   | 10..60     | deg      | handling pilot | most lean when lean is held
lift.calm          | u8  | 20   | 0..80      | %        |  | how much the answers are lowered at full lift
lift.calm.at       | u8  | 65   | 20..100    | %        |  | lift from which the answers are lowered
""",
        banks=SETS,
    )
