"""Listings of very different character, each with the (bank, name, index, value) rows a person would read from it.

They were written before anyone looked at what the reader makes of them.
"""

from __future__ import annotations

Row = tuple[str | None, str, str | None, str]
CASES: list[tuple[str, str, list[Row]]] = []


def case(name: str, text: str, expected: str, not_understood: list[int] | None = None) -> None:
    rows: list[Row] = []
    for line in expected.strip("\n").split("\n"):
        bank, setting, index, value = line.split("|", 3)
        rows.append((bank or None, setting, index or None, value.replace("%n", "\n")))
    CASES.append((name, text.lstrip("\n"), rows))


case(
    "router",
    """
hostname edge-7
interface eth0
  description "up link"
  mtu 1500
  shutdown no
interface eth1
  description "bench"
  mtu 9000
  shutdown yes
""",
    """
|hostname||edge-7
interface eth0|description||up link
interface eth0|mtu||1500
interface eth0|shutdown||no
interface eth1|description||bench
interface eth1|mtu||9000
interface eth1|shutdown||yes
""",
)
case(
    "scope scpi",
    """
:TIMEBASE:SCALE 1.000E-03
:TIMEBASE:OFFSET 0.0
:CHANNEL1:COUPLING DC
:CHANNEL1:SCALE 5.00E-01
:CHANNEL2:COUPLING AC
:CHANNEL2:SCALE 2.00E+00
:TRIGGER:MODE AUTO
""",
    """
|:TIMEBASE:SCALE||1.000E-03
|:TIMEBASE:OFFSET||0.0
|:CHANNEL1:COUPLING||DC
|:CHANNEL1:SCALE||5.00E-01
|:CHANNEL2:COUPLING||AC
|:CHANNEL2:SCALE||2.00E+00
|:TRIGGER:MODE||AUTO
""",
)
case(
    "printer menu dump",
    """
MENU DUMP  Page 1

PAPER HANDLING
   Tray size ................ A4
   Tray type ................ Plain
   Override ................. Off
PRINT QUALITY
   Resolution ............... 600
   Toner density ............ 3
   Economy .................. Off
SYSTEM
   Sleep delay .............. 15 min
   Clearable warnings ....... Job
""",
    """
PAPER HANDLING|Tray size||A4
PAPER HANDLING|Tray type||Plain
PAPER HANDLING|Override||Off
PRINT QUALITY|Resolution||600
PRINT QUALITY|Toner density||3
PRINT QUALITY|Economy||Off
SYSTEM|Sleep delay||15
SYSTEM|Clearable warnings||Job
""",
)
case(
    "bios dump",
    """
[Main]
Boot Mode            : [Quick]
Memory Speed         : [Auto]
SATA Port 0          : [Enabled]

[Advanced]
Hyper Transport      : [Disabled]
Fan Floor            : [40 %]
Wake On LAN          : [Enabled]
""",
    """
Main|Boot Mode||Quick
Main|Memory Speed||Auto
Main|SATA Port 0||Enabled
Advanced|Hyper Transport||Disabled
Advanced|Fan Floor||40 %
Advanced|Wake On LAN||Enabled
""",
)
case(
    "plc",
    """
P0001 := 250      (* ramp time *)
P0002 := 0        (* ramp kind *)
P0003 := 50.00    (* base frequency *)
P0100 := 1        (* motor type *)
P0101 := -3       (* trim *)
""",
    """
|P0001||250
|P0002||0
|P0003||50.00
|P0100||1
|P0101||-3
""",
)
case(
    "synth patches by prompt",
    """
synth> dump patch 1
cutoff=88
resonance=12
attack=3
synth> dump patch 2
cutoff=64
resonance=40
attack=0
synth> dump patch 3
cutoff=127
resonance=0
attack=9
synth>
""",
    """
patch 1|cutoff||88
patch 1|resonance||12
patch 1|attack||3
patch 2|cutoff||64
patch 2|resonance||40
patch 2|attack||0
patch 3|cutoff||127
patch 3|resonance||0
patch 3|attack||9
""",
)
case(
    "telescope mount",
    """
Mount status 21:14
RA rate (arcsec/s)   : 15.041
Dec rate (arcsec/s)  : 0.000
Guide factor         : 0.5
Backlash RA          : 12
Backlash Dec         : -4
Hemisphere           : North
""",
    """
|RA rate (arcsec/s)||15.041
|Dec rate (arcsec/s)||0.000
|Guide factor||0.5
|Backlash RA||12
|Backlash Dec||-4
|Hemisphere||North
""",
    [1],
)
case(
    "weather station",
    """
# station config v2
interval=300
upload=on
sensor[0].kind=temperature
sensor[0].gain=1.00
sensor[1].kind=humidity
sensor[1].gain=0.98
password=
note=a=b
""",
    """
|interval||300
|upload||on
|sensor[0].kind||temperature
|sensor[0].gain||1.00
|sensor[1].kind||humidity
|sensor[1].gain||0.98
|password||
|note||a=b
""",
)
case(
    "modem S registers",
    """
AT&V
S0=1
S2=43
S7=60
S10=14
S12=50
S95=0
OK
""",
    """
|S0||1
|S2||43
|S7||60
|S10||14
|S12||50
|S95||0
""",
)
case(
    "radio registers",
    """
S0:LAYOUT=25
S1:LINE_RATE=57
S2:SPAN_RATE=64
S3:FLOCK=25
S4:LOUD=20
S5:GUARD=0
""",
    """
|S0:LAYOUT||25
|S1:LINE_RATE||57
|S2:SPAN_RATE||64
|S3:FLOCK||25
|S4:LOUD||20
|S5:GUARD||0
""",
)
case(
    "nmea config",
    """
$QCFG,RATE,10*3C
$QCFG,BAUD,57600*11
$QCFG,DATUM,WGS84*5A
$QCFG,ELMASK,5*02
$QCFG,SBAS,ON*7F
""",
    """
|RATE||10
|BAUD||57600
|DATUM||WGS84
|ELMASK||5
|SBAS||ON
""",
)
case(
    "numbered dollars",
    """
$0=10
$1=25
$2=0
$100=250.000
$101=250.000
$110=500.000
ok
""",
    """
|$0||10
|$1||25
|$2||0
|$100||250.000
|$101||250.000
|$110||500.000
""",
)
case(
    "numbered dollars with meaning",
    """
$0=10 (lamp pulse, usec)
$1=25 (lamp idle, msec)
$2=0 (lamp port mask:00000000)
$100=250.000 (x, tick/mm)
$101=250.000 (y, tick/mm)
$110=500.000 (x most, mm/min)
ok
""",
    """
|$0||10
|$1||25
|$2||0
|$100||250.000
|$101||250.000
|$110||500.000
""",
)
case(
    "mqtt retained",
    """
shed/lamp/level 40
shed/lamp/mode auto
shed/fan/speed 3
hall/lamp/level 100
hall/door/name front door
hall/fan/speed 0
""",
    """
|shed/lamp/level||40
|shed/lamp/mode||auto
|shed/fan/speed||3
|hall/lamp/level||100
|hall/door/name||front door
|hall/fan/speed||0
""",
)
case(
    "yamlish",
    """
pump:
  pressure: 3.5
  limits:
    low: 1
    high: 6
  name: "north: pump"
valve:
  open: true
  limits:
    low: 0
    high: 90
""",
    """
pump|pressure||3.5
pump.limits|low||1
pump.limits|high||6
pump|name||north: pump
valve|open||true
valve.limits|low||0
valve.limits|high||90
""",
)
case(
    "xml attributes",
    """
<?xml version="1.0"?>
<settings>
  <param name="gain" value="4"/>
  <param name="rate" value="50.0"/>
  <param name="mode" value="slow &amp; low"/>
  <param name="lamp" value=""/>
</settings>
""",
    """
|gain||4
|rate||50.0
|mode||slow & low
|lamp||
""",
)
case(
    "xml elements",
    """
<config>
  <gain>4</gain>
  <rate>50.0</rate>
  <mode>slow</mode>
  <lamp>on</lamp>
</config>
""",
    """
config|gain||4
config|rate||50.0
config|mode||slow
config|lamp||on
""",
)
case(
    "s-expressions",
    """
(gain 4)
(rate 50.0)
(mode slow)
(label "two words")
(trim -3)
""",
    """
|gain||4
|rate||50.0
|mode||slow
|label||two words
|trim||-3
""",
)
case(
    "registry export",
    """
Editor Version 5.00

[ROOT_BENCH\\Unit\\Lamp]
"Level"=dword:00000010
"Mode"="slow"

[ROOT_BENCH\\Unit\\Fan]
"Level"=dword:00000002
"Mode"="fast"
""",
    """
ROOT_BENCH\\Unit\\Lamp|Level||dword:00000010
ROOT_BENCH\\Unit\\Lamp|Mode||slow
ROOT_BENCH\\Unit\\Fan|Level||dword:00000002
ROOT_BENCH\\Unit\\Fan|Mode||fast
""",
    [1],
)
case(
    "plist",
    """
<?xml version="1.0" encoding="UTF-8"?>
<plist version="1.0">
<dict>
	<key>gain</key>
	<integer>4</integer>
	<key>rate</key>
	<real>50.0</real>
	<key>mode</key>
	<string>slow</string>
</dict>
</plist>
""",
    """
|gain||4
|rate||50.0
|mode||slow
""",
)
case(
    "properties",
    """
# written by hand
! old style remark
lamp.level=40
lamp.mode = auto
path=c\\:\\\\data
message=first \\
        second
empty=
""",
    """
|lamp.level||40
|lamp.mode||auto
|path||c\\:\\\\data
|message||first%nsecond
|empty||
""",
)
case(
    "csv with preamble",
    """
Unit: bench 4
Taken: 2031-02-03 10:11

name,value,unit,remark
gain,4,,loop
rate,50.0,Hz,"how often, per second"
mode,slow,,
tilt,-5,deg,
""",
    """
|gain||4
|rate||50.0
|mode||slow
|tilt||-5
""",
)
case(
    "fixed width",
    """
ID   NAME             VALUE      UNITS  DEFAULT
001  CLIMB_RATE        4.50      m/s       5.00
002  SINK_RATE        -2.00      m/s      -3.00
003  LAMP             AUTO                 OFF
004  WAIT               10       s           10
""",
    """
|CLIMB_RATE||4.50
|SINK_RATE||-2.00
|LAMP||AUTO
|WAIT||10
""",
)
case(
    "pairs on a line",
    """
NAME="disk0" SIZE="12G" RO="0"
NAME="disk1" SIZE="40G" RO="1"
NAME="disk2" SIZE="7G" RO="0"
""",
    """
disk0|SIZE||12G
disk0|RO||0
disk1|SIZE||40G
disk1|RO||1
disk2|SIZE||7G
disk2|RO||0
""",
)
case(
    "semicolon statements",
    """
speed 9600 baud; rows 24; columns 80; line = 0;
intr = ^C; quit = ^Q; erase = ^?; eof = ^D;
min = 1; time = 0;
""",
    """
|speed||9600
|rows||24
|columns||80
|line||0
|intr||^C
|quit||^Q
|erase||^?
|eof||^D
|min||1
|time||0
""",
)
case(
    "comma pairs",
    """
gain=4, rate=50.0, mode=slow
lamp=on, wait=10, tilt=-5
""",
    """
|gain||4
|rate||50.0
|mode||slow
|lamp||on
|wait||10
|tilt||-5
""",
)
case(
    "timestamps in brackets",
    """
[12:00:01.123] gain = 4
[12:00:01.130] rate = 50.0
[12:00:01.139] mode = slow
[12:00:01.151] label = two words
""",
    """
|gain||4
|rate||50.0
|mode||slow
|label||two words
""",
)
case(
    "iso timestamps and level",
    """
2031-02-03T10:11:12Z INFO gain: 4
2031-02-03T10:11:12Z INFO rate: 50.0
2031-02-03T10:11:13Z INFO mode: slow
2031-02-03T10:11:13Z WARN lamp: on
""",
    """
|gain||4
|rate||50.0
|mode||slow
|lamp||on
""",
)
case(
    "line numbers",
    """
0001: gain = 4
0002: rate = 50.0
0003: mode = slow
0004: lamp = on
""",
    """
|gain||4
|rate||50.0
|mode||slow
|lamp||on
""",
)
case(
    "quoted mail",
    """
> gain = 4
> rate = 50.0
> [lamp]
> mode = slow
> level = 3
""",
    """
|gain||4
|rate||50.0
lamp|mode||slow
lamp|level||3
""",
)
case(
    "column per bank",
    """
name        set 1   set 2   set 3
----------  ------  ------  ------
gain             4       5       6
rate          50.0    60.0    70.0
mode          slow    fast    slow
""",
    """
set 1|gain||4
set 2|gain||5
set 3|gain||6
set 1|rate||50.0
set 2|rate||60.0
set 3|rate||70.0
set 1|mode||slow
set 2|mode||fast
set 3|mode||slow
""",
)
case(
    "bang profiles",
    """
!profile=1
gain 4
rate 50.0
!profile=2
gain 5
rate 60.0
""",
    """
profile 1|gain||4
profile 1|rate||50.0
profile 2|gain||5
profile 2|rate||60.0
""",
)
case(
    "at sets",
    """
@set 0
gain: 4
rate: 50.0
mode: slow
@set 1
gain: 5
rate: 60.0
mode: slow
""",
    """
set 0|gain||4
set 0|rate||50.0
set 0|mode||slow
set 1|gain||5
set 1|rate||60.0
set 1|mode||slow
""",
)
case(
    "dashes and number",
    """
--- 1 ---
gain 4
rate 50.0
--- 2 ---
gain 5
rate 60.0
""",
    """
1|gain||4
1|rate||50.0
2|gain||5
2|rate||60.0
""",
)
case(
    "profile statement",
    """
lamp = on
profile = 1
gain = 4
rate = 50.0
profile = 2
gain = 5
rate = 60.0
""",
    """
|lamp||on
profile 1|gain||4
profile 1|rate||50.0
profile 2|gain||5
profile 2|rate||60.0
""",
)
case(
    "typed commands",
    """
bench# show bank 1
gain                4
rate                50.0
lamp                on
bench# show bank 2
gain                5
rate                60.0
lamp                off
bench# exit
""",
    """
bank 1|gain||4
bank 1|rate||50.0
bank 1|lamp||on
bank 2|gain||5
bank 2|rate||60.0
bank 2|lamp||off
""",
)
case(
    "typed select then show",
    """
fw> select 1
fw> show
gain = 4
rate = 50.0
fw> select 2
fw> show
gain = 5
rate = 60.0
fw>
""",
    """
select 1|gain||4
select 1|rate||50.0
select 2|gain||5
select 2|rate||60.0
""",
)
case(
    "put two only",
    """
put gain = 3
put rate = 4
""",
    """
|gain||3
|rate||4
""",
)
case(
    "put three blank",
    """
set gain 3
set rate 4.5
set mode slow
""",
    """
|gain||3
|rate||4.5
|mode||slow
""",
)
case(
    "ranges and defaults",
    """
gain = 3 [0..10] (default 5)
rate = 50.0 [1.0..400.0] (default 50.0)
mode = slow [slow, fast] (default fast)
tilt = -5 [-45..45] (default 0)
""",
    """
|gain||3
|rate||50.0
|mode||slow
|tilt||-5
""",
)
case(
    "wrapped descriptions",
    """
gain = 3
    the gain of the loop that keeps
    the nose where it should be
rate = 50.0
    how often the loop runs
mode = slow
    either slow or fast
""",
    """
|gain||3
|rate||50.0
|mode||slow
""",
)
case(
    "attached units",
    """
delay: 100ms
window: 250ms
rate: 50Hz
tilt: -5deg
level: 3
""",
    """
|delay||100ms
|window||250ms
|rate||50Hz
|tilt||-5deg
|level||3
""",
)
case(
    "allowed lines",
    """
gain = 3
Allowed range: 0 - 10

rate = 50
Allowed range: 1 - 400

mode = SLOW
Allowed values: SLOW, FAST, AUTO
""",
    """
|gain||3
|rate||50
|mode||SLOW
""",
)
case(
    "log prefix",
    """
Jan 03 10:11:12 unit7 cfgd[231]: gain=4
Jan 03 10:11:12 unit7 cfgd[231]: rate=50.0
Jan 03 10:11:13 unit7 cfgd[231]: mode=slow
Jan 03 10:11:13 unit7 cfgd[231]: label=two words
""",
    """
|gain||4
|rate||50.0
|mode||slow
|label||two words
""",
)
case(
    "banner and pager",
    """
Kestrel field unit  (c) 2031
Type help for help

kestrel> list
gain        : 4
rate        : 50.0
--More--
mode        : slow
lamp        : on
4 settings
kestrel>
""",
    """
|gain||4
|rate||50.0
|mode||slow
|lamp||on
""",
    [1, 2],
)
case(
    "braces inline",
    """
profile 1 {
  gain 4
  rate 50.0
}
profile 2 {
  gain 5
  rate 60.0
}
""",
    """
profile 1|gain||4
profile 1|rate||50.0
profile 2|gain||5
profile 2|rate||60.0
""",
)
case(
    "colon brackets",
    """
[profile:1]
gain=4
rate=50.0
[profile:2]
gain=5
rate=60.0
""",
    """
profile:1|gain||4
profile:1|rate||50.0
profile:2|gain||5
profile:2|rate||60.0
""",
)
case(
    "dotted bank prefix",
    """
bank1.gain 4
bank1.rate 50.0
bank2.gain 5
bank2.rate 60.0
""",
    """
|bank1.gain||4
|bank1.rate||50.0
|bank2.gain||5
|bank2.rate||60.0
""",
)
case(
    "array values",
    """
mix 0 1.0 0.5 0.0 -0.5
mix 1 1.0 -0.5 0.0 0.5
mix 2 1.0 0.5 1.0 0.5
port 0 115200 gnss
port 1 57600 none
""",
    """
|mix|0|1.0 0.5 0.0 -0.5
|mix|1|1.0 -0.5 0.0 0.5
|mix|2|1.0 0.5 1.0 0.5
|port|0|115200 gnss
|port|1|57600 none
""",
)
case(
    "hex addresses",
    """
0x0010 gain 0x04
0x0012 rate 0x32
0x0014 mode 0x00
0x0016 lamp 0xFF
""",
    """
|gain||0x04
|rate||0x32
|mode||0x00
|lamp||0xFF
""",
)
case(
    "vim toggles",
    """
  autoindent
nospacetab
  tabwidth=4
  tabstop=8
nowrap
  textwidth=0
""",
    """
|autoindent||
|nospacetab||
|tabwidth||4
|tabstop||8
|nowrap||
|textwidth||0
""",
)
case(
    "markdown table",
    """
# Settings

| Setting | Value | Unit |
|:--------|------:|------|
| gain    |     4 |      |
| rate    |  50.0 | Hz   |
| mode    |  slow |      |
""",
    """
|gain||4
|rate||50.0
|mode||slow
""",
)
case(
    "shell export",
    """
export GAIN="4"
export RATE='50.0'
export LABEL="two words"
export EMPTY=""
""",
    """
|GAIN||4
|RATE||50.0
|LABEL||two words
|EMPTY||
""",
)
case(
    "declare",
    """
declare -x GAIN="4"
declare -r RATE="50.0"
declare -i COUNT="7"
declare -x LABEL="say \\"hi\\""
declare -r MODE="slow"
""",
    """
|GAIN||4
|RATE||50.0
|COUNT||7
|LABEL||say \\"hi\\"
|MODE||slow
""",
)
case(
    "heading banks",
    """
Motor A
=======
  limit        : 40 A
  direction    : reversed

Motor B
=======
  limit        : 35 A
  direction    : normal
""",
    """
Motor A|limit||40
Motor A|direction||reversed
Motor B|limit||35
Motor B|direction||normal
""",
)
case(
    "echo per command",
    """
>get gain
gain=4
>get rate
rate=50.0
>get mode
mode=slow
>
""",
    """
|gain||4
|rate||50.0
|mode||slow
""",
)
case(
    "status suffix",
    """
gain = 3 *
rate = 50
mode = slow *
lamp = on
tilt = -5 *
""",
    """
|gain||3
|rate||50
|mode||slow
|lamp||on
|tilt||-5
""",
)
case(
    "current set stated",
    """
Bank 1:
  gain 4
  rate 50
Bank 2:
  gain 5
  rate 60
Current bank: 2
""",
    """
Bank 1|gain||4
Bank 1|rate||50
Bank 2|gain||5
Bank 2|rate||60
""",
)
