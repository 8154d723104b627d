"""How the report's figures are made, from what sources, and what the report does not say."""

from sync_server.report.blocks import Block, Heading, Note, paragraph
from sync_server.report.material import Material
from sync_server.report.numerals import percent, plain


def method_section(material: Material) -> list[Block]:
    """Return method, sources and cautions."""
    balance, inputs = material.balance, material.inputs
    rating = inputs.path.rating
    return [
        Heading(text="Method and sources", anchor="method"),
        paragraph(
            "Level is stage plus the zero of the gauge at that time; between readings the level"
            " lies on a straight line. Where several gauges were read in one look, the mean counts"
            " and its ± is that of the best of them. Area and volume come from the rating table"
            f" “{balance.rating_version}” ({rating.origin}), which answers from"
            f" {plain(rating.lowest_m, 2)} to {plain(rating.highest_m, 2)} m and is not used"
            " outside that range. A day runs from 09:00 to 09:00 site standard time and carries the"
            " date on which it ends, as a rain gauge is read (common practice)."
        ),
        paragraph(
            f"Rain is from: {balance.rain_source}, ± {percent(inputs.rain.sd_fraction, 1.0, 0)}."
            " Evaporation of open water is reference evaporation times a factor (FAO-56, Allen et"
            " al. 1998, Table 12: 1.05 for shallow open water), daily where weather was taken in and by"
            f" month elsewhere, ± {percent(inputs.evaporation.sd_fraction, 1.0, 0)}. The change in"
            f" storage carries ± {percent(inputs.fit_fraction, 1.0, 0)} of itself for the form of"
            " the rating, and the ± of the levels at both ends. Run-off from the catchment is not"
            " a term here; where there was some it is in the residual, with its sign turned."
        ),
        paragraph(
            "The residual holds all errors of the other terms. A published lake budget found a"
            " residual of the same sign year after year and could not tell ground water from"
            " gauging error (USGS WRI 01-4235). A negative residual is shown as it is. A rate wants"
            " at least 14 days or a fall of 100 mm (trade practice). Uncertainty is carried to"
            " first order through the whole computation; what periods share adds straight, what"
            " they do not share adds in squares (JCGM 100:2008)."
        ),
        Note(
            text="This report records and computes; it decides nothing. Whether conditions of a"
            " licence were met is for the authority and the licensee; heights and boundaries with"
            " legal weight, structures, electrical work, laboratory results and anything else that"
            " law reserves are for licensed people. On site follow your organisation's work plan,"
            " local law and licensed people."
        ),
    ]
