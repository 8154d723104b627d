"""A tagged tree: the form, and the next tree after it."""

from mobile.next_point import next_point
from mobile.screens.record_form import FormPage
from shared_core.records.points_setup import TreeTagged
from shared_core.records.tree import TreeScore


class TreePage(FormPage):
    """Shows a tree being scored."""

    def kept(self) -> None:
        tree = next_point(self.tablet.day, TreeTagged, TreeScore, self.point)
        if not tree:
            self.router.back()
            return
        self.tell(f"Tree {self.point} is kept.", (f"Next tree: {tree}", lambda: self._go_on(tree)))

    def _go_on(self, tree: str) -> None:
        self.router.go("tree", kind=TreeScore.kind, point=tree)
