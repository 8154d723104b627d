"""A site on this visit: what is to do in the order of the feet, and what else may be recorded."""

from mobile.screens.page import Face, Page, load_rules
from mobile.site_page import LEFT_OUT_BECAUSE, Row, SiteShown, site_shown
from mobile.visit_rows import visit_rows
from mobile.widgets.key import Choice, Key
from mobile.widgets.panel import PanelKeys
from mobile.widgets.row import Row as RowLine
from mobile.widgets.row import RowKey
from mobile.widgets.text import Column, Heading, Words
from mobile.widgets.theme import theme

SIGN = {"todo": "empty", "begun": "look", "done": "fits", "left": "cannot", "free": ""}


class SiteWide(Face):
    """What is to do at the left, the rest at the right."""


class SiteTall(Face):
    """Everything in one column."""


load_rules(__file__)


class SitePage(Page):
    """Shows one visit to one site."""

    asked = ""  # title of the item whose reason for being left out is asked

    def take_up(self, **what: str) -> None:
        if what:
            self.tablet.day.take_up(what["site"], code=what.get("visit", ""))
        self.asked = ""

    def face_for(self, *, wide: bool) -> Face:
        return SiteWide(page=self) if wide else SiteTall(page=self)

    def show(self) -> None:
        shown = site_shown(self.tablet.day)
        self.head(shown.name, shown.sub)
        ids = self.face.ids
        ids.first.clear_widgets()
        ids.second.clear_widgets()
        *before, leave = visit_rows(self.tablet.day)
        ids.first.add_widget(Heading(text="This visit"))
        for row in before:
            ids.first.add_widget(self._line(row, can_leave_out=False))
        self._fill(ids.first, shown, todo=True)
        ids.first.add_widget(Heading(text="At the end"))
        ids.first.add_widget(self._line(leave, can_leave_out=False))
        self._fill(ids.second, shown, todo=False)
        ids.second.add_widget(Words(text=shown.caution, points=17, shade="ink2"))

    def _fill(self, column: Column, shown: SiteShown, *, todo: bool) -> None:
        for section in shown.sections:
            is_todo = section.heading.startswith("To do")
            if is_todo != todo:
                continue
            column.add_widget(Heading(text=section.heading))
            for row in section.rows:
                column.add_widget(self._line(row, can_leave_out=todo))
                if row.title == self.asked:
                    column.add_widget(self._reasons(row))

    def _line(self, row: Row, *, can_leave_out: bool) -> RowLine:
        line = RowLine()
        key = RowKey(
            title=row.title,
            says=row.says,
            mood=SIGN[row.state],
            test_id=f"{row.kind} {row.point}",
        )
        key.bind(on_hit=lambda *_: self._open(row))
        line.add_widget(key)
        if can_leave_out and row.state in ("todo", "begun", "left"):
            leave = Key(text="Not done", size_hint_x=None, points=16, late=True, lip=4)
            leave.width = 104 * max(1.0, theme.scale)
            leave.test_id = f"leave out {row.kind} {row.point}"
            leave.bind(on_hit=lambda *_: self._ask(row))
            line.add_widget(leave)
        return line

    def _reasons(self, row: Row) -> PanelKeys:
        keys = PanelKeys()
        for reason in LEFT_OUT_BECAUSE:
            key = Choice(text=reason, send=reason, points=17, late=True)
            key.bind(on_hit=lambda _, word: self._leave_out(row, word))
            keys.add_widget(key)
        return keys

    def _open(self, row: Row) -> None:
        self.router.go(row.screen, kind=row.kind, point=row.point)

    def _ask(self, row: Row) -> None:
        self.asked = "" if self.asked == row.title else row.title
        self.show()

    def _leave_out(self, row: Row, reason: str) -> None:
        day = self.tablet.day
        item = next(item for item in day.to_do() if item.title == row.title)
        day.leave_out(item, reason)
        self.asked = ""
        self.show()
