"""The files that lie on the desk of these tests: two catalogs, their notes, a listing."""

from __future__ import annotations

OLD = """\
name,type,units,min,max,default,choices,description,consequence
lost.wait,float,s,0,10,1.5,,time until the receiver-loss action,safety
lost.do,enum,,,,1,1=land|2=climb and hold|3=cut motors,what happens on receiver loss,safety
idle.speed,float,,0,1,0.05,,motor idle,handling
tilt.max,float,deg,0,60,35,,largest tilt,handling
lamp.on,bool,,,,0,,lamps,none
lamp.hue,int,,0,360,120,,hue of the lamps,none
beep.low,float,V,0,20,10.5,,pack warning,safety
old.toy,int,,0,9,4,,a toy,comfort
"""

NEW = """\
name,type,units,min,max,default,choices,description,consequence
lost.wait,float,ms,0,10000,1000,,time until the receiver-loss action,safety
lost.do,enum,,,,1,1=land|2=cut motors|3=climb and hold,what happens on receiver loss,safety
idle.speed,float,,0,1,0.07,,motor idle,handling
tilt.max,float,deg,0,45,35,,largest tilt,handling
lights.on,bool,,,,0,,lamps,none
lamp.hue,int,,0,360,120,,hue of the lamps,none
beep.low,float,V,0,20,10.5,,pack warning,safety
brake.hold,float,s,0,9,2,,hold after a stop,handling
log.rate,int,Hz,0,500,50,,log rate,none
"""

NOTES = """\
from = "marl-1.0"
to = "marl-2.0"
complete = true

[[change]]
kind = "convert"
old = "lost.wait"
unit = {from = "s", to = "ms"}
why = "milliseconds everywhere"

[[change]]
kind = "rename"
old = "lamp.on"
new = "lights.on"

[[change]]
kind = "retire"
old = "old.toy"
why = "nobody used it"
"""

LISTING = """\
lost.wait = 1.5
lost.do = 2
idle.speed = 0.05
tilt.max = 50
lamp.on = 1
lamp.hue = 120
beep.low = 10.8
old.toy = 4
"""
