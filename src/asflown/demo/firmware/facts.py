"""What the tables of marram 4.1 have no column for: choices, bits, words among numbers, needs, roles."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Facts = Mapping[str, Mapping[str, Any]]

SWITCH = (
    "0 nothing, 1 make ready, 2 hold the place, 3 come home, 4 hold the height, 5 lamps, 6 sounder, "
    "7 upside-down start, 8 camera, 9 choose the set, 10 stop the motors, 11 land"
)
FILTER = "0 none, 1 one step, 2 two steps, 3 sharp"
PORT = "0 nothing, 1 receiver, 2 satellite receiver, 3 telling back, 4 diary, 5 picture, 6 speed controllers"
ONE_WAY = "0 usual, 1 other way round"
OFF_ON = "0 off, 1 on"
LAMP = "0 nothing, 1 colour, 2 warning, 3 charge, 4 lean"

#: The firmware's words for the axes, and the trade's.
_AXES = (("roll", "roll"), ("nod", "pitch"), ("swing", "yaw"))
_LEVEL = "stand the aircraft on a level table and take the level"
_STILL = "leave the aircraft untouched for ten seconds and take the still values"
_NEEDLE = "turn the aircraft about every axis, away from iron, and take the compass"


def facts() -> Facts:
    """Facts by parameter name."""
    return {**_safety(), **_control(), **_devices(), **_switches(), **_rest()}


def _safety() -> Facts:
    return {
        "motor.idle": {
            "why": "too little and a motor stops in the air; too much and the aircraft does not come down",
            "role": "motor.idle_drive",
            "factor": "0.001",
        },
        "silent.wait": {
            "why": "too short and a moment's silence makes the aircraft act by itself",
            "role": "radio_loss.delay",
            "factor": "0.1",
        },
        "silent.act": {
            "choices": "0 stop the motors, 1 come down level, 2 hold the place, 3 come home",
            "why": "what happens above people when the radio is silent",
            "role": "radio_loss.action",
        },
        "silent.shut": {
            "plain": "0 never",
            "why": "stopping the motors early drops the aircraft",
            "role": "radio_loss.motor_stop_delay",
            "factor": "1",
        },
        "silent.climb": {
            "plain": "0 off",
            "role": "radio_loss.climb",
            "why": "without the climb the way home may lead through what stands between",
        },
        "silent.lift": {
            "why": "decides how fast it comes down without a pilot",
            "role": "radio_loss.throttle",
        },
        "silent.back": {"role": "radio_loss.return_delay"},
        "silent.near": {"role": "radio_loss.lands_within"},
        "lean.cut": {
            "plain": "0 off",
            "why": "stops the motors in the air when it is set too low",
            "role": "disarming.lean",
        },
        "fall.cut": {
            "plain": "0 off",
            "why": "stops the motors in the air when it is set too low",
            "role": "disarming.free_fall",
        },
        "ready.checks": {
            "bits": "0 pack, 1 radio, 2 level, 3 compass, 4 place, 5 switches, 6 diary",
            "why": "a check left out lets the motors turn when they should not",
            "role": "arming.checks",
        },
        "ready.lean": {"role": "arming.most_lean"},
        "ready.lift": {"role": "arming.highest_throttle_pulse"},
        "ready.quiet": {"plain": "0 never", "role": "disarming.idle_time"},
        "pack.warn": {
            "why": "a warning that comes too late ends in a forced landing",
            "role": "pack.warning_voltage",
            "factor": "0.1",
        },
        "pack.warn.for": {"role": "pack.warning_delay"},
        "pack.cells": {"why": "the warning is reckoned from it", "role": "pack.cells", "factor": "1"},
        "charge.full": {"role": "pack.capacity"},
        "charge.land": {"role": "pack.land_share"},
        "amp.most": {"plain": "0 off", "role": "pack.most_current"},
        "bound.act": {
            "choices": "0 nothing, 1 tell the pilot, 2 hold the place, 3 come home",
            "why": "what happens at the edge of the permitted space",
        },
        "bound.far": {"plain": "0 off", "unit_from": "dist.unit", "why": "the edge of the permitted space"},
        "bound.top": {"plain": "0 off", "unit_from": "dist.unit", "why": "the greatest permitted height"},
        "dist.unit": {"choices": "0 m, 1 ft", "why": "the bounds' numbers are in this unit"},
        "home.take": {"choices": "0 by hand, 1 when made ready, 2 when a place is first known"},
        "spin.up.time": {"plain": "0 at once"},
        "jam.stop": {"plain": "0 never", "why": "a jammed motor burns when it is not stopped"},
        "home.north": {"private": True, "why": "where the aircraft flies to by itself"},
        "home.east": {"private": True, "why": "where the aircraft flies to by itself"},
        "home.high": {"why": "the way home must lead over what stands between"},
    }


def _control() -> Facts:
    roles: dict[str, Mapping[str, Any]] = {}
    for axis, trade in (("roll", "roll"), ("nod", "pitch"), ("swing", "yaw")):
        for part, term in (
            ("firm", "proportional"),
            ("stay", "integral"),
            ("calm", "derivative"),
            ("lead", "feedforward"),
        ):
            roles[f"{axis}.{part}"] = {"role": f"rate_loop.{trade}.{term}_gain", "factor": "1"}
        roles[f"{axis}.quick"] = {"role": f"rate_loop.{trade}.full_stick"}
        roles[f"{axis}.bend"] = {"role": f"rate_loop.{trade}.stick_expo"}
        roles[f"{axis}.rest"] = {"role": f"rate_loop.{trade}.stick_rest", "factor": "0.002"}
        roles[f"mix.{axis}"] = {"role": f"mixer.{trade}.share", "factor": "0.01"}
    return {
        **roles,
        "lean.firm": {"role": "attitude_loop.proportional_gain", "factor": "1"},
        "turn.rate": {"role": "rate_loop.rate", "factor": "1"},
        "shake.cut": {
            "choices": FILTER,
            "why": "a filter that is too weak heats the motors",
            "role": "gyro_filter.kind",
        },
        "shake.calm": {"choices": FILTER, "role": "derivative_filter.kind"},
        "shake.cut.hz": {"plain": "0 off", "role": "gyro_filter.cutoff", "factor": "1", "clips": True},
        "shake.calm.hz": {"plain": "0 off", "role": "derivative_filter.cutoff", "factor": "1"},
        "swing.cut.hz": {"plain": "0 off", "role": "yaw_filter.cutoff", "factor": "1"},
        "hum.use": {"choices": "0 off, 1 at fixed places, 2 followed", "role": "notch_filter.use"},
        **{
            f"hum.{which}.hz": {
                "plain": "0 off",
                "needs": ("hum.use",),
                "asks": (("on", "hum.use"),),
                "role": f"notch_filter.{which}.centre",
                "factor": "1",
            }
            for which in "abc"
        },
        **{f"hum.{which}.wide": {"role": f"notch_filter.{which}.width", "factor": "1"} for which in "abc"},
        "hum.high": {"needs": ("hum.low",), "asks": (("over", "hum.low"),)},
        "mix.first": {"choices": "0 lift gives way, 1 turning gives way"},
        "sag.lift": {"choices": OFF_ON},
        "radio.smooth": {"choices": "0 off, 1 line, 2 curve"},
        "radio.smooth.hz": {"plain": "0 automatic"},
        "home.nose": {"choices": "0 as it is, 1 home, 2 away from home"},
    }


def _devices() -> Facts:
    ports: dict[str, Mapping[str, Any]] = {}
    for which in "abcdef":
        ports[f"port.{which}.does"] = {
            "choices": PORT, "reboot": True, "role": f"serial.{which}.does",
        }  # fmt: skip
        ports[f"port.{which}.rate"] = {"role": f"serial.{which}.baud"}
    motors = {f"motor.{which}.way": {"choices": ONE_WAY} for which in "abcd"}
    outputs = {f"motor.{which}.pin": {"role": f"motor.{n}.output"} for n, which in enumerate("abcd", 1)}
    return {
        **ports,
        **motors,
        **outputs,
        "motor.talk": {
            "choices": "0 pulse, 1 short pulse, 2 words of 300, 3 words of 600",
            "why": "the speed controllers must understand it",
            "role": "motor.protocol",
            "reboot": True,
        },
        "motor.talk.rate": {"needs": ("motor.talk",)},
        "motor.flip": {"choices": ONE_WAY},
        "radio.kind": {
            "choices": "0 pulse train, 1 eight words, 2 sixteen words, 3 fast words, 4 long words, 5 pairs",
            "role": "receiver.protocol",
            "reboot": True,
        },
        "radio.flip": {"choices": ONE_WAY},
        "radio.pair.word": {"private": True, "why": "whoever has it can bind a receiver to this transmitter"},
        "radio.pair.on": {"choices": OFF_ON},
        "radio.port": {"plain": "0 none", "role": "receiver.port"},
        "radio.bars.from": {"plain": "0 none"},
        "tell.back": {"choices": "0 nothing, 1 pack, 2 pack and place, 3 everything"},
        "stick.order": {"indexes": tuple("12345678"), "why": "a stick that moves something else"},
        "sky.kind": {"choices": "0 none, 1 binary, 2 sentences"},
        "sky.port": {"plain": "0 none", "role": "gnss.port"},
        "charge.from": {"choices": "0 voltage, 1 current, 2 both"},
        "volt.scale": {
            "redo": "measure the pack with a meter and set the shown voltage to it",
            "role": "calibration.voltage.scale",
        },
        "amp.zero": {
            "redo": "take the current sensor's zero with the motors stopped",
            "role": "calibration.current.offset",
        },
        "level.roll": {"redo": _LEVEL, "role": "calibration.level.roll"},
        "level.nod": {"redo": _LEVEL, "role": "calibration.level.pitch"},
        **{
            f"still.{own}": {"redo": _STILL, "role": f"calibration.gyro.offset.{axis}"} for own, axis in _AXES
        },
        **{f"mount.{own}": {"role": f"board.orientation.{axis}"} for own, axis in _AXES},
        "needle.turn": {"role": "magnetometer.orientation"},
        **{
            f"needle.{axis}": {"redo": _NEEDLE, "role": f"calibration.magnetometer.offset.{axis}"}
            for axis in "xyz"
        },
        "needle.use": {"choices": OFF_ON},
        "air.use": {"choices": OFF_ON},
        "turn.span": {"choices": "0 250 deg/s, 1 500 deg/s, 2 1000 deg/s, 3 2000 deg/s"},
        "push.span": {"choices": "0 4 gn, 1 8 gn, 2 16 gn, 3 32 gn"},
    }


def _switches() -> Facts:
    made: dict[str, Mapping[str, Any]] = {}
    for which in "abcdef":
        made[f"switch.{which}.does"] = {
            "choices": SWITCH,
            "slots": True,
            "why": "a switch that does something else than its label says",
        }
        made[f"switch.{which}.to"] = {
            "needs": (f"switch.{which}.from",),
            "asks": (("over", f"switch.{which}.from"),),
        }
    return made


def _rest() -> Facts:
    shown = ("volt", "amp", "charge", "clock", "high", "home", "lean", "bars", "warn", "fast")
    sticks = {f"{stick}.stick.way": {"choices": ONE_WAY} for stick in ("roll", "nod", "swing", "lift")}
    return {
        **sticks,
        **{f"show.{item}.on": {"choices": OFF_ON} for item in shown},
        **{f"lamp.{which}.does": {"choices": LAMP} for which in "abcd"},
        "show.use": {"choices": OFF_ON},
        "show.wide": {"choices": "0 4:3, 1 16:9, 2 automatic"},
        "chirp.on": {
            "bits": "0 ready, 1 pack, 2 radio silent, 3 place lost, 4 place found, 5 set chosen, "
            "6 diary full, 7 idle",
        },
        "chirp.lost": {"plain": "0 off"},
        "lamp.use": {"choices": OFF_ON},
        "lamp.pin": {"role": "lights.output"},
        "diary.use": {"choices": "0 never, 1 when ready, 2 always"},
        "diary.of": {"bits": "0 turning, 1 sticks, 2 drive, 3 pack, 4 place, 5 push"},
        "craft.hours": {"read_only": True, "volatile": True},
        "craft.flights": {"read_only": True, "volatile": True},
        "lens.steady": {"choices": OFF_ON},
        "set.in.use": {"choices": "1 first, 2 second, 3 third"},
        "snap.every": {"plain": "0 off"},
        "warm.wait": {"clips": True},
    }
