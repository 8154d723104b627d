"""The season report: its numbers are the balance's, its links resolve, its text is escaped."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Final

import pytest

from shared_core.balance import SeasonBalance
from shared_core.errors import RefusedError, UnknownError
from shared_core.logbook import Logbook, Said
from shared_core.site_balance import balance_of
from sync_server.figures import RatePoint
from sync_server.report.blocks import Report, Table, columns, row
from sync_server.report.numerals import SiteClock, measured, plain
from sync_server.report.page import report_page, write_report
from sync_server.report.season import season_report
from sync_server.report.terms import trend_says
from tests.sync_server.small_season import NAME, SITE, WRITTEN_AT, SmallSeason

VOID: Final = {"meta", "img"}
TERMS: Final = ("Pumped", "Rain", "Evaporation", "Change in storage", "Residual")


@pytest.fixture(scope="module")
def season() -> Iterator[SmallSeason]:
    made = SmallSeason()
    yield made
    made.close()


@pytest.fixture(scope="module")
def report(season: SmallSeason) -> Report:
    return season_report(season.book, SITE, written_at=WRITTEN_AT)


@pytest.fixture(scope="module")
def html(report: Report) -> str:
    return report_page(report)


@pytest.fixture(scope="module")
def balance(season: SmallSeason) -> SeasonBalance:
    return balance_of(season.book.known(), SITE)


def table(report: Report, start: str) -> Table:
    """The one table whose caption starts with these words."""
    found = [b for b in report.blocks if isinstance(b, Table) and b.caption.startswith(start)]
    assert len(found) == 1, start
    return found[0]


def texts(found: Table) -> list[dict[str, str]]:
    labels = [column.label for column in found.columns]
    return [dict(zip(labels, (c.text for c in r.cells), strict=True)) for r in found.rows]


def numbers(text: str) -> list[float]:
    return [float(word) for word in re.findall(r"[+-]?\d+(?:\.\d+)?", text.replace("\u2212", "-"))]


def all_words(report: Report) -> str:
    return re.sub(r"<[^>]*>|base64,[A-Za-z0-9+/=]*", " ", report_page(report))


class Page(HTMLParser):
    """Reads a page: which anchors it has and leads to, what it loads, whether tags close."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.sources: list[str] = []
        self.tags: list[str] = []
        self.alts: list[str] = []
        self.open: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag not in VOID:
            self.open.append(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            elif name == "href":
                self.links.append(value or "")
            elif name == "src":
                self.sources.append(value or "")
            elif name == "alt":
                self.alts.append(value or "")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


# numbers ---------------------------------------------------------------------------------------


def test_each_figure_of_the_balance_table_is_the_balances_own(
    report: Report, balance: SeasonBalance
) -> None:
    rows = texts(table(report, "Balance by period"))
    for said, period in zip(rows, (*balance.periods, balance.season), strict=True):
        assert said["Period"] == period.name
        assert numbers(said["Days"]) == [round(period.days)]
        for label, term in zip(TERMS, period.terms, strict=True):
            value, sd = (*numbers(said[label]), 0.0)[:2]
            assert value == pytest.approx(term.megalitres, abs=0.0501), (period.name, label)
            assert sd == pytest.approx(term.sd_megalitres, abs=0.0501), (period.name, label)


def test_the_small_season_comes_out_as_worked_by_hand(report: Report) -> None:
    # 2000 + 4000 counts of 10 kL are 60 ML, 20 h at 0.25 ML/h are 5 ML; 100 ML were allocated.
    # Area 100,000 m2 and volume 50,000 m3 at 11.0 m, 70,000 m3 at 11.2 m.
    rows = texts(table(report, "Balance by period"))
    assert numbers(rows[0]["Pumped"])[0] == 65.0
    assert numbers(rows[0]["Change in storage"])[0] == 70.0
    assert numbers(rows[1]["Change in storage"])[0] == -20.0
    assert rows[0]["Estimated"].startswith("7.7")  # 5 of 65
    facts = {line["What"]: line for line in texts(table(report, "Key figures"))}
    assert facts["Delivered"]["Figure"].startswith("65.00")
    assert "metered 60.00 ML" in facts["Delivered"]["Remark"]
    assert "65.0\u00a0% delivered, 35.0 ML left" in facts["Allocated, account A-1"]["Remark"]
    assert facts["Highest level read"]["Figure"].startswith("11.200")
    assert facts["Area then"]["Figure"] == "10.0 ha"
    assert facts["Dry on"]["Figure"] == "2023-09-28 or 2023-09-29"


def test_rates_are_the_balances_own(report: Report, balance: SeasonBalance) -> None:
    for line, period in zip(texts(table(report, "Residual rates")), balance.periods, strict=True):
        rate = period.rate_mm_day
        assert rate is not None
        assert numbers(line["Rate [mm/day]"]) == pytest.approx([rate.value, rate.sd], abs=0.0501)


def test_the_seasons_uncertainty_is_told_straight_and_as_if_independent(
    report: Report, balance: SeasonBalance
) -> None:
    words = all_words(report)
    alone = balance.sd_as_if_independent_megalitres()
    assert f"independent, the ± would be {alone:.1f} ML" in words
    assert f"±\u00a0{balance.season.residual.sd_megalitres:.1f} ML. Its ± adds straight" in words
    made_of = texts(table(report, "What the season's ± is made of"))
    squares = sum(numbers(line["± [ML]"])[0] ** 2 for line in made_of)
    assert squares**0.5 == pytest.approx(balance.season.residual.sd_megalitres, abs=0.1)


def test_meters_add_up_to_the_balance(report: Report, balance: SeasonBalance) -> None:
    rows = texts(table(report, "Meters and what"))
    counted = [numbers(line["Metered [ML]"])[0] for line in rows]
    assert counted == [60.0, 60.0]
    assert counted[-1] == pytest.approx(balance.season.metered_m3 / 1000.0)
    assert rows[0]["Unit × multiplier"] == "kL × 10"
    assert (rows[0]["First figures"], rows[0]["Last figures"]) == ("999000", "005000")
    assert rows[0]["Passed zero"] == "by 2023-08-06"
    estimated = texts(table(report, "Water estimated"))
    assert [numbers(line["Volume [ML]"]) for line in estimated] == [[5.0]]


def test_a_walk_stands_beside_the_rating(report: Report) -> None:
    # A square of 320 m is 10.24 ha; at 11.15 m the rating has 10 ha.
    (walk,) = texts(table(report, "Area walked"))
    assert numbers(walk["Walked [ha]"])[0] == pytest.approx(10.24, abs=0.06)
    assert numbers(walk["Rating [ha]"]) == [10.0]
    assert numbers(walk["Ratio"])[0] == pytest.approx(1.024, abs=0.006)


# where each figure comes from -------------------------------------------------------------------


def test_each_figure_leads_to_exactly_its_records(report: Report, balance: SeasonBalance) -> None:
    tables = {b.anchor: b for b in report.blocks if isinstance(b, Table) and b.anchor}
    figures = table(report, "Balance by period")
    labels = [column.label for column in figures.columns]
    for line, period in zip(figures.rows, balance.periods, strict=False):
        for label, term in zip(TERMS[:4], period.terms[:4], strict=True):
            cell = line.cells[labels.index(label)]
            if not term.evidence:
                assert cell.to == ""
                continue
            listed = [said["Record"] for said in texts(tables[cell.to])]
            assert set(term.evidence) <= set(listed)
            assert len(listed) == len(set(listed))


def test_a_list_names_what_value_when_who_and_device(report: Report, season: SmallSeason) -> None:
    listed = {said["Record"]: said for said in texts(table(report, "Behind fill, storage change"))}
    reading = listed[season.named["typed wrong"]]
    assert reading["What"] == "Staff gauge G1"
    assert reading["Value"] == "Stage 0.500 m"
    assert reading["When"] == "2023-08-07 09:00"
    assert reading["Seen or set by"] == "Priya, Tom & Jo"
    assert reading["Device"] == "OFFICE-1"
    assert reading["Standing"] == "corrected"
    assert season.named["zero"] in listed  # the zero that made levels of the stages


def test_corrections_say_from_to_by_when_and_why(report: Report) -> None:
    lines = texts(table(report, "4 changes to 3 records"))
    stage = next(line for line in lines if line["Field"] == "Stage")
    assert (stage["From"], stage["To"]) == ("5.000 m", "0.500 m")
    assert stage["Record"] == "Staff gauge G1, 2023-08-07 09:00"
    assert stage["By"] == "Ruth (OFFICE-1)"
    assert stage["Reason"].startswith("Decimal point")
    assert stage["When"].startswith("2023-09-11 09:00")


def test_what_was_set_aside_is_kept_and_shown(report: Report) -> None:
    (line,) = texts(table(report, "Kept, but not counted"))
    assert line["Value"] == "Stage 0.900 m"
    assert line["Reason"] == "Misread by 0.3 m."


def test_a_withdrawn_record_is_shown_as_it_was() -> None:
    made = SmallSeason()
    made.change("rain", "Wrong gauge.", quality="doubtful")
    heads = made.book.history(made.named["rain"])
    made.book.withdraw(heads[0].record, Said(author="Ruth", note="Of another place."))
    report = season_report(made.book, SITE, written_at=WRITTEN_AT)
    lines = texts(table(report, "Kept, but not counted"))
    rain = next(line for line in lines if line["How"] == "withdrawn")
    assert rain["Value"].startswith("Rain 10.0 mm")
    assert rain["Reason"] == "Of another place."
    made.close()


def test_open_disputes_show_both_values(report: Report) -> None:
    lines = texts(table(report, "Different values"))
    assert {(line["Value"], line["By"]) for line in lines} == {
        ("2023-09-28", "Ruth (OFFICE-1)"),
        ("2023-09-29", "Sam (FIELD-2)"),
    }


def test_a_planned_visit_of_which_nothing_came_is_named(report: Report) -> None:
    (line,) = texts(table(report, "1 of 3 planned visits"))
    assert line["Visit"] == "Bittern 10"


def test_the_report_names_exactly_its_data(report: Report, season: SmallSeason, html: str) -> None:
    assert (report.digest, report.entries) == (season.book.digest(), season.book.size())
    assert report.digest in html
    assert f"{season.book.size()} entries" in html


# the page ---------------------------------------------------------------------------------------


def test_the_page_parses_and_every_anchor_resolves(html: str) -> None:
    read = Page(html)
    assert read.open == []
    assert len(read.ids) == len(set(read.ids))
    assert len(read.links) > 20
    assert {link.removeprefix("#") for link in read.links} <= set(read.ids)


def test_the_page_needs_nothing_from_elsewhere(html: str) -> None:
    read = Page(html)
    assert all(link.startswith("#") for link in read.links)
    assert len(read.sources) == 3
    assert all(source.startswith("data:image/svg+xml;base64,") for source in read.sources)
    assert not {"script", "link", "iframe", "object"} & set(read.tags)
    assert not re.search(r"url\(|@import", html)


def test_every_figure_has_words(html: str) -> None:
    assert all(len(alt) > 60 for alt in Page(html).alts)


def test_what_people_typed_is_escaped(html: str) -> None:
    assert "<b>Hollow" not in html
    assert "<i>" not in html
    assert "&lt;script&gt;alert(" in html
    assert "Gum &lt;b&gt;Hollow&lt;/b&gt; &amp; &#34;Sons&#34;" in html


def test_the_report_judges_no_situation(report: Report) -> None:
    words = all_words(report).lower()
    assert not re.search(r"\b(un)?safe\b|\b(non-?)?complian(t|ce)\b", words)
    assert "licensed people" in words


def test_the_same_entries_and_time_give_the_same_bytes(season: SmallSeason, html: str) -> None:
    assert report_page(season_report(season.book, SITE, written_at=WRITTEN_AT)) == html
    assert report_page(season_report(season.other, SITE, written_at=WRITTEN_AT)) == html


def test_a_written_report_is_whole_and_alone(
    season: SmallSeason, html: str, tmp_path: Path
) -> None:
    path = write_report(season.book, SITE, tmp_path / "new" / "out", written_at=WRITTEN_AT)
    assert path.read_text(encoding="utf-8") == html
    assert [found.name for found in path.parent.iterdir()] == ["report.html"]


def test_a_report_that_cannot_be_made_leaves_the_old_one(
    season: SmallSeason, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_report(season.book, SITE, tmp_path, written_at=WRITTEN_AT)
    before = path.read_bytes()

    def full(_: int) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("sync_server.report.page.os.fsync", full)
    with pytest.raises(OSError, match="no space"):
        write_report(season.book, SITE, tmp_path, written_at=WRITTEN_AT)
    assert path.read_bytes() == before
    assert [found.name for found in tmp_path.iterdir()] == ["report.html"]


def test_a_site_nobody_knows_is_named(season: SmallSeason) -> None:
    with pytest.raises(UnknownError, match="no site 'NIL'"):
        season_report(season.book, "NIL", written_at=WRITTEN_AT)


def test_a_report_is_of_one_version_of_the_data(
    season: SmallSeason, monkeypatch: pytest.MonkeyPatch
) -> None:
    digests = iter(range(1000))
    monkeypatch.setattr(Logbook, "digest", lambda _: f"{next(digests)}")
    with pytest.raises(RefusedError, match="entries kept coming in"):
        season_report(season.book, SITE, written_at=WRITTEN_AT)


def test_the_title_names_site_and_season(report: Report) -> None:
    assert report.title == f"{NAME} (GUM)"
    assert report.subtitle == "Season 2023: water balance from 2023-08-02 to 2023-09-01"
    assert report.written_at == "2023-10-01 12:00 UTC+10:00"


# small parts ------------------------------------------------------------------------------------


def test_a_sum_that_cancels_is_nothing_and_zero_has_no_minus() -> None:
    assert measured(-2.8e-14, 1e-15) == "0"
    assert plain(-0.001, 2) == "0.00"
    assert plain(-0.006, 2) == "\u22120.01"
    assert measured(12.34, 1.0, sign=True) == "+12.3\u00a0±\u00a01.0"
    assert measured(0.61, 0.05) == "0.61\u00a0±\u00a00.05"


def test_a_site_west_of_greenwich_names_its_offset() -> None:
    assert SiteClock(-210).name == "UTC-03:30"


def rate(name: str, value: float, sd: float) -> RatePoint:
    return RatePoint(name=name, depth_m=0.5, mm_per_day=value, sd_mm_per_day=sd, pumping=False)


def test_a_trend_is_shown_only_where_bars_part() -> None:
    touching = [rate("A", 2.0, 0.5), rate("B", 3.0, 0.5), rate("C", 2.4, 0.1)]
    assert trend_says(touching).startswith("No trend shown")
    parted = [rate("A", 2.0, 0.4), rate("B", 3.0, 0.5), rate("C", 2.4, 0.1)]
    assert trend_says(parted).startswith("The rates of A and B differ")
    assert trend_says(parted[:1]).startswith("No trend shown")


def test_a_row_that_does_not_fit_its_table_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="does not fit"):
        Table(caption="Two", columns=columns("A", ">B"), rows=(row("only one"),))
