"""The shared words of books and shops for instruments and skills, which neither has to describe."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

STANDARD_INSTRUMENTS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "multimeter": "Digital multimeter: volts, amperes, ohms, diode test.",
        "bench-supply": "Laboratory supply with adjustable voltage and current limit.",
        "oscilloscope": "Oscilloscope with 10:1 probes.",
        "differential-probe": "Differential probe for an oscilloscope, where no end of the signal is ground.",
        "current-probe": "Clamp or probe that shows a current's course on an oscilloscope.",
        "logic-analyser": "Logic analyser for digital buses.",
        "lcr-meter": "Meter for inductance, capacitance and resistance at a chosen frequency.",
        "capacitance-meter": "Capacitance meter, or a multimeter that measures capacitance.",
        "esr-meter": "Measures a capacitor's series resistance in circuit.",
        "insulation-tester": "Measures insulation resistance with several hundred volts.",
        "milliohm-meter": "Four-wire resistance meter for a few milliohms.",
        "electronic-load": "Adjustable load that draws a set current from a supply or cell.",
        "power-analyser": "Meter for mains power, power factor and standby consumption.",
        "usb-meter": "Shows voltage and current between a USB supply and the device.",
        "signal-generator": "Signal generator for sine, square and pulse.",
        "frequency-counter": "Frequency counter.",
        "spectrum-analyser": "Spectrum analyser with near-field probes.",
        "thermal-camera": "Thermal camera that shows small hot parts.",
        "thermometer": "Contact thermometer with a fine thermocouple.",
        "freeze-spray": "Cold spray to cool one part at a time.",
        "microscope": "Stereo or video microscope, 7 to 45 times.",
        "magnifier": "Magnifier or head loupe, 3 to 10 times.",
        "xray": "X-ray inspection of joints under parts.",
        "soldering-iron": "Temperature-controlled soldering iron with fine tips.",
        "desoldering-gun": "Vacuum desoldering tool for through-hole parts.",
        "hot-air": "Hot-air station with adjustable temperature and flow.",
        "preheater": "Board preheater (bottom heat).",
        "bga-station": "Rework station with top and bottom heat for ball-grid arrays.",
        "stencils": "Stencils and solder balls for reballing.",
        "ultrasonic-cleaner": "Ultrasonic bath for boards.",
        "drying-oven": "Oven with a set temperature to dry boards.",
        "programmer": "Programmer for flash memories, with clip or socket.",
        "debug-adapter": "Debug adapter (JTAG, SWD) for microcontrollers.",
        "serial-adapter": "USB to serial adapter for consoles.",
        "computer": "Computer with the maker's or a general service program.",
        "isolating-transformer": "Isolating transformer for work on mains-powered boards.",
        "variable-transformer": "Variable transformer to bring mains up slowly.",
        "lamp-limiter": "Series lamp that limits the current at first power-up on mains.",
        "spot-welder": "Spot welder for cell tabs.",
        "laser": "Laser for removing glass, glue or coating.",
        "uv-lamp": "UV lamp to cure solder mask or glue.",
        "crimp-tool": "Crimping tool for the connectors of the device.",
        "torque-driver": "Screwdriver with adjustable torque.",
        "known-good-board": "A working board of the same kind to compare with.",
        "known-good-battery": "A working battery of the same kind.",
        "known-good-display": "A working display of the same kind.",
    }
)
"""Instruments by name, each with one line."""

STANDARD_SKILLS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "soldering": "Through-hole and large surface-mount parts.",
        "fine-soldering": "Surface-mount parts down to 0402 and 0.5 mm pitch, with an iron.",
        "microsoldering": "Parts down to 01005, jumpers and pads under the microscope.",
        "hot-air-rework": "Removing and placing parts with hot air without harming their neighbours.",
        "bga": "Removing, reballing and placing ball-grid arrays.",
        "board-layers": "Repairing traces in inner layers.",
        "mains-work": "Trained, and where the law asks for it licensed, for work on mains.",
        "lithium-cells": "Trained in handling, testing and replacing lithium cells.",
        "high-voltage": "Trained for work above 60 V direct or 30 V alternating voltage.",
        "programming": "Reading and writing flash memories and microcontrollers.",
        "data-rescue": "Saving a customer's data before a risky step.",
        "glass-work": "Separating and replacing display glass.",
        "calibration": "Calibrating the device after repair.",
    }
)
"""Skills by name, each with one line."""
