"""The standing cards, as data: the checks after any change of firmware (common practice, no source)."""

from __future__ import annotations

from asflown.core.cards import Agree, Card, Measure, Phase, Propellers, Range

PROPS_OFF = "PROPELLERS OFF. Look at every motor now: no propeller on any of them."
#: On every bench card with power.
POWERED = (
    "Frame strapped down, people clear. Lithium pack plugged only for the step that asks for it, one person"
    " at the plug; a warm, puffed or dented one goes outside. Local rules and qualified people come first.",
)
_HANDS = "Keep hands, hair and cables away from the motors: without propellers they still catch and cut."
_UNPLUG = "To stop: unplug the pack."
#: °: tilted by hand by about 30, turned by hand, level within what a table and a hand allow. Where a link
#: says them, signs are those of ISO 1151-1.
_TILTED, _TURNED, _LEVEL = Range(15.0, 60.0), Range(15.0, 180.0), Range(-2.0, 2.0)

BASELINE = Card(
    id="baseline",
    title="Fly and log a baseline on the old release",
    phase=Phase.BEFORE_LOADING,
    aim="Have a log of how it flies today. Without it nobody can say later that it flies as before.",
    set_up=(
        "The aircraft as it is: old release, old settings, usual pack and load.",
        "Logging on, at the rate you always use; memory empty; clock right.",
        "A calm place, nobody nearby, the usual permission.",
    ),
    do=(
        "Hover 60 s at head height.",
        "Then 2 min of your usual flying: rolls and pitches to both sides, yaw turns, a climb and a descent.",
        "Land, unplug, copy the log off the aircraft, and open it: is it whole?",
        "Feel the motors and note which are warm.",
        "Propellers off: do the cards orientation, sticks and meter once on the old release and note the "
        "readings. They are what 'as before' means later.",
    ),
    expect=("It flies as you know it.", "The log opens and shows the whole flight."),
    measures=(
        Measure("log file"),
        Measure("length of the log", "s"),
        Measure("pack voltage before", "V"),
        Measure("pack voltage after", "V"),
        Measure("wind", "m/s"),
    ),
    go_on_only_if="the log is on another machine and opens. It cannot be flown again after loading. If a "
    "baseline is impossible, write why: the verdict will then read not enough evidence, however it flies.",
    stop=("Anything that is not as usual: land. Repair it on the old release first.",),
    safety=(
        "A normal flight with propellers on: your usual pre-flight check and the local rules apply.",
        "Stand clear; nobody within reach of the aircraft when it starts.",
    ),
    propellers=Propellers.ON,
    is_powered=True,
)

FACTORY_LISTING = Card(
    id="factory-listing",
    title="Capture the fresh factory listing",
    phase=Phase.AFTER_LOADING,
    aim="Read the new release's own names and factory values from the board, before anything is changed.",
    set_up=(
        "The new image is on the board, its settings erased, nothing else written.",
        "Pack unplugged: the board runs from USB alone.",
    ),
    do=(
        "Print every setting in the firmware's own terminal and save what it prints as a file.",
        "Give it to asflown as the factory listing of this refit and make the final plan.",
    ),
    expect=("A complete listing that starts and ends where it should.",),
    measures=(Measure("file"), Measure("settings in it")),
    go_on_only_if="the final plan is made from this listing. Nothing is written from a provisional plan.",
    stop=("The listing is cut, or shows another release than planned.",),
    safety=(PROPS_OFF, "Pack unplugged."),
)

PROPELLERS_OFF = Card(
    id="propellers-off",
    title="Propellers off",
    phase=Phase.BENCH,
    aim="Nothing on the bench can fly or cut.",
    set_up=("Pack unplugged, USB unplugged.",),
    do=(
        "Take every propeller off and put them in a box away from the bench.",
        "Mark each with its motor, so that it goes back where it was.",
        "Fix the frame to the bench or hold it down with a strap.",
    ),
    expect=("No propeller on any motor.",),
    measures=(Measure("propellers in the box"),),
    go_on_only_if="you counted them: as many in the box as there are motors.",
    safety=("Settings may be wrong now: a motor may start by itself when the pack is plugged in.",),
)

ORIENTATION = Card(
    id="orientation",
    title="Board orientation, by hand",
    phase=Phase.BENCH,
    aim="The board knows which way is up, front and right. A wrong sign turns the aircraft over at take-off.",
    set_up=(
        "Board on USB, pack unplugged.",
        "Show roll, pitch, yaw and their rates in the firmware's own display.",
    ),
    do=(
        "Right side down by about 30°: read roll.",
        "Nose up by about 30°: read pitch.",
        "Turn the nose to the right, seen from above: read yaw.",
        "Put it level: read roll and pitch.",
    ),
    expect=(
        "Right side down reads roll in the direction it read on the old release (note the sign).",
        "Nose up reads pitch likewise; nose right reads yaw likewise.",
        "Level reads 0° within 2°.",
    ),
    measures=(
        Measure("roll, right side down", "°", "attitude.roll", expects_live=_TILTED),
        Measure("pitch, nose up", "°", "attitude.pitch", expects_live=_TILTED),
        Measure("yaw change, nose right", "°", "attitude.yaw", is_change=True, expects_live=_TURNED),
        Measure("roll when level", "°", "attitude.roll", expects=_LEVEL),
        Measure("pitch when level", "°", "attitude.pitch", expects=_LEVEL),
    ),
    go_on_only_if="all three signs are as before and level is level.",
    stop=("One sign is wrong: do not go on to any card with the pack.",),
    safety=(PROPS_OFF, "Pack unplugged."),
)

MOTORS = Card(
    id="motors",
    title="Motor order and direction",
    phase=Phase.BENCH,
    aim="Each motor is the one the board thinks it is, and turns the right way.",
    set_up=("A strip of paper to feel the direction; never a finger.",),
    do=(
        "You start one motor at a time with the firmware's own motor test, lowest speed, and stop it again. "
        "asflown starts none.",
        "Note which motor turned and which way.",
        "After the last one: all stop when you stop them.",
    ),
    expect=(
        "Number and place as on the drawing of your airframe, and as before.",
        "Direction as before for each.",
        "All start at the lowest speed without stutter.",
    ),
    measures=(
        Measure("1: place and direction"),
        Measure("2: place and direction"),
        Measure("3: place and direction"),
        Measure("4: place and direction"),
    ),
    go_on_only_if="every motor is in its place, turns its way, and stops at once.",
    stop=("A motor starts that you did not start, or does not stop; smell or heat.", _UNPLUG),
    safety=(PROPS_OFF, _HANDS, *POWERED),
    is_powered=True,
)

STICKS = Card(
    id="sticks",
    title="Stick channels and directions",
    phase=Phase.BENCH,
    aim="Each stick moves its own axis, the right way, over its whole travel.",
    set_up=("Transmitter on, its model chosen.", "Show the received channels in the firmware's own display."),
    do=(
        "Move one stick at a time to both ends; let it go.",
        "Throttle: lowest, middle, highest.",
        "Each switch through all its positions.",
    ),
    expect=(
        "One stick moves one channel; right roll, nose-up pitch, right yaw, more throttle each go their way.",
        "Ends and middle as on the old release.",
        "Each switch position selects what its label says.",
    ),
    measures=(
        Measure("roll ends and middle", "µs", "channels"),
        Measure("pitch ends and middle", "µs", "channels"),
        Measure("yaw ends and middle", "µs", "channels"),
        Measure("throttle ends", "µs", "channels"),
        Measure("switch positions"),
    ),
    go_on_only_if="every channel, direction and switch position is right.",
    stop=("A channel moves the wrong axis.", _UNPLUG),
    safety=(PROPS_OFF, _HANDS, *POWERED),
    is_powered=True,
)

TRANSMITTER_OFF = Card(
    id="transmitter-off",
    title="Transmitter off: what really happens",
    phase=Phase.BENCH,
    aim="See what the aircraft does when it hears nothing, and after how many seconds.",
    set_up=("A watch.", "Know what it should do: read the plan's line for it."),
    do=(
        "Transmitter on, aircraft ready but motors stopped. Switch the transmitter off; watch the display.",
        "Note after how many seconds the board says that the link is lost, and what it does then.",
        "Switch it on again: what happens, and does it need you to do something first?",
        "If you also test with motors turning: you start them yourself at the lowest speed, strapped down.",
    ),
    expect=(
        "The link counts as lost after the planned time, not a tenth and not ten times of it.",
        "The planned action follows, and nothing else.",
        "It does not start by itself when the transmitter comes back.",
    ),
    measures=(Measure("time to link lost", "s"), Measure("action seen"), Measure("after switching on again")),
    go_on_only_if="time and action are the planned ones.",
    stop=("A motor speeds up after the transmitter is off: pull the pack.",),
    safety=(PROPS_OFF, _HANDS, *POWERED),
    is_powered=True,
)

ARMING = Card(
    id="arming-switch",
    title="Arming switch",
    phase=Phase.BENCH,
    aim="The motors can start when you want it and never otherwise.",
    set_up=("Throttle lowest.",),
    do=(
        "Plug the pack with the switch in the armed position: nothing may start.",
        "Throttle up a little, try to arm: it must refuse.",
        "Throttle lowest, arm, count to three, disarm. You work the switch; asflown arms nothing.",
        "Tilt the frame to 60° by hand, try to arm: note what it does.",
    ),
    expect=(
        "No start at plug-in. No arming with throttle up.",
        "Arms at lowest throttle; stops at once when disarmed.",
    ),
    measures=(Measure("at plug-in"), Measure("throttle up"), Measure("disarm stops after", "s")),
    go_on_only_if="it armed only when it should, and disarming stopped every motor at once.",
    stop=("A motor turns before you arm: pull the pack.",),
    safety=(PROPS_OFF, _HANDS, *POWERED),
    is_powered=True,
)

METER = Card(
    id="meter",
    title="Meter against shown voltage",
    phase=Phase.BENCH,
    aim="The voltage the board shows is the voltage of the pack: warnings depend on it.",
    set_up=("A voltmeter at the balance plug or the pack leads.", "A charged pack."),
    do=(
        "Read the meter and the shown voltage at the same moment.",
        "Look which kind of voltage the display shows: of the pack or per cell.",
        "Compare the planned warning with it: at which pack voltage will it warn?",
    ),
    expect=("Both agree within 0.1 V a pack.", "The warning comes at the pack voltage you want."),
    measures=(
        Measure("meter", "V"),
        Measure("shown", "V", "pack_voltage"),
        Measure("warning at (pack)", "V"),
        Measure("current shown, motors stopped", "A", "pack_current"),
    ),
    agree=(Agree("meter", "shown", 0.1),),
    go_on_only_if="they agree, and the warning is above the voltage that hurts the pack.",
    stop=("A pack that is warm, puffed or damaged: take it outside.", _UNPLUG),
    safety=(PROPS_OFF, "Do not bridge the balance plug with the probes.", *POWERED),
    is_powered=True,
)

RADIO_POWER = Card(
    id="radio-power",
    title="Radio power and band permitted",
    phase=Phase.BENCH,
    aim="Every sender on the aircraft works in a band and at a power that is permitted where you fly.",
    set_up=("Antennas on every sender before the pack is plugged.", "The rules of the place at hand."),
    do=("Read band, channel and power of each sender: camera link, receiver's return link, telemetry.",),
    expect=("Band, channel and power as planned, and permitted here.",),
    measures=(
        Measure("camera link: band, channel"),
        Measure("camera link: power", "mW"),
        Measure("other senders"),
        Measure("rule looked up"),
    ),
    go_on_only_if="all of it is permitted where you fly next.",
    stop=("A sender without antenna: unplug at once.",),
    safety=(PROPS_OFF, "Keep an arm's length from sending antennas.", *POWERED),
    is_powered=True,
)

FIRST_HOVER = Card(
    id="first-hover",
    title="First hover: half a minute",
    phase=Phase.FLIGHT,
    aim="It lifts, holds and lands. Nothing more today until the motors were felt.",
    set_up=(
        "Every bench card passed. Propellers back, each on its motor, right way up, tight.",
        "Outside, level ground, nobody within 10 m, wind below 4 m/s. Logging on.",
        "Thumb on the switch that stops the motors.",
    ),
    do=(
        "Lift to knee height, no higher. If it tips or spins, stop the motors at once.",
        "Hover 30 s at head height. Small stick movements only.",
        "Land, disarm, unplug. Feel each motor with the back of a finger.",
        "Listen: the sound as before? Save the log.",
    ),
    expect=("It lifts straight.", "Motors warm at most, all alike.", "The sound you know."),
    measures=(Measure("hover time", "s"), Measure("warmest motor"), Measure("sound"), Measure("log file")),
    go_on_only_if="it held itself without help, no motor was hot, and the log is saved.",
    stop=(
        "It tips, spins, climbs by itself or oscillates: stop the motors.",
        "A new sound, smell or a hot motor: land, do not fly again.",
    ),
    safety=(
        "PROPELLERS ON. Nobody within 10 m, you behind a barrier or at least 5 m away.",
        "Know the switch that stops the motors before you start.",
    ),
    propellers=Propellers.ON,
    is_powered=True,
)

#: In working order; a refit's own cards stand between the last of BENCH and FIRST_HOVER.
BENCH = (PROPELLERS_OFF, ORIENTATION, MOTORS, STICKS, TRANSMITTER_OFF, ARMING, METER, RADIO_POWER)
