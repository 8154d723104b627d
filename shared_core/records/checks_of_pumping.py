"""Checks of meters, pumps and licences, as data."""

from typing import Final

from shared_core.records.checks_form import Check, Limit

PUMPING_LIMITS: Final = (
    Limit("hours-too-many", 0.5, "h", "computed"),
    Limit("hours-without-water", 0.7, "share", "from memory; rates measured on site: UF/IFAS AE067"),
    Limit("daily-volume", None, "ML", "the licence"),
    Limit("used-up-note", 0.8, "share", "common practice"),
    Limit("used-up", 0.95, "share", "common practice"),
    Limit("log-gap-note", 2, "days", "common practice"),
    Limit("log-gap", 7, "days", "common practice; licences are often weekly"),
    Limit("meter-ratio-step", 0.15, "share", "computed"),
    Limit("meter-ratio", 0.2, "share", "from memory"),
)  # fmt: skip

PUMPING_CHECKS: Final = (
    Check("meter-name", 12, "meter_fitted", "stop", "a new meter with the name of one that was here", (), "common practice"),
    Check("meter-unknown", 12, "meter_reading", "ask", "a meter that is not set up here", (), "common practice"),
    Check("meter-no-start", 12, "meter_reading", "note", "the first figures of a meter without a start", (), "common practice"),
    Check("meter-start-missing", 12, "meter_fitted", "ask", "a meter fitted without its figures", (), "common practice"),
    Check("meter-final-missing", 12, "meter_fitted", "note", "a meter replaced without its last figures", (), "common practice"),
    Check("figures-count", 12, "meter_reading meter_fitted", "ask note", "too many or too few figures", (), "common practice"),
    Check("meter-rolled", 12, "meter_reading", "ask note", "figures that passed zero", (), "NSW Water Management (General) Regulation 2018, cl. 230-243"),
    Check("meter-changed", 12, "meter_reading", "ask", "figures that fall and cannot have passed zero", (), "common practice"),
    Check("meter-flat", 13, "meter_reading", "stop", "a meter that stood still while the pump ran", (), "common practice"),
    Check("flow-rate", 14, "meter_reading", "stop ask note", "a volume beside hours and the pump's rate", (), "from memory; UF/IFAS AE067"),
    Check("unit-times-ten", 15, "meter_reading", "stop", "a count worth 10, 100 or 1000 times more or less", (), "computed"),
    Check("last-figures-odd", 14, "meter_reading", "note", "the figures before are the odd ones", (), "computed"),
    Check("daily-volume", 16, "meter_reading", "ask", "a day's volume over the licence", ("daily-volume",), "the licence"),
    Check("used-up", 17, "meter_reading", "ask note", "most of the water allowed is used", ("used-up-note", "used-up"), "common practice"),
    Check("hours-too-many", 18, "pump_run", "stop", "an hour meter that gained on the clock", ("hours-too-many",), "computed"),
    Check("hours-fall", 18, "pump_run", "stop", "an hour meter that went back", (), "computed"),
    Check("last-hours-odd", 18, "pump_run", "note", "the hours before are the odd ones", (), "computed"),
    Check("hours-without-water", 13, "pump_run", "ask", "pump hours with too little on the meter", ("hours-without-water",), "from memory"),
    Check("no-hours", 18, "pump_run", "ask", "neither hour meter nor start or stop", (), "common practice"),
    Check("stop-before-start", 18, "pump_run", "ask", "a pump that stops before it starts", (), "common practice"),
    Check("fuel", 19, "pump_run", "note", "fuel beside volume and head", (), "computed; NSW DPI pump fact sheet"),
    Check("river-low", 16, "pump_run", "ask", "a river below the licence's level", (), "the licence"),
    Check("log-gap", 20, "meter_reading", "ask note", "days without a look while the pump ran", ("log-gap-note", "log-gap"), "common practice"),
    Check("meter-ratio-step", 14, "", "ask", "a lasting change of metered to hours times rate", ("meter-ratio-step",), "computed"),
    Check("meter-ratio", 14, "", "ask", "metered to hours times rate off throughout", ("meter-ratio",), "from memory"),
)  # fmt: skip
