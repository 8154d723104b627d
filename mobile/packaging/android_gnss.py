"""The tablet's own satellite receiver through pyjnius. Not run on a device yet.

Only the GPS provider is asked: with all providers, network positions some hundred metres out would
come between the satellite ones with nothing to tell them apart. Callbacks arrive on Android's main
thread; the sink is a queue's ``put``. Both listeners are kept for as long as they are registered,
since pyjnius frees them otherwise and the next callback ends the process.
"""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any, Final

from jnius import PythonJavaClass, autoclass, cast, java_method

from shared_core.track import Fix

EVERY_MS: Final = 1000


class _Positions(PythonJavaClass):  # type: ignore[misc] # pyjnius has no types
    __javainterfaces__ = ("android/location/LocationListener",)
    __javacontext__ = "app"

    def __init__(self, sink: Callable[[Fix], None], said: Callable[[str], None]) -> None:
        super().__init__()
        self._sink = sink
        self._said = said

    @java_method("(Landroid/location/Location;)V")  # type: ignore[untyped-decorator]
    def onLocationChanged(self, location: Any) -> None:  # noqa: ANN401, N802 - Android's name
        self._sink(
            Fix(
                time=datetime.fromtimestamp(location.getTime() / 1000.0, UTC),
                lat=location.getLatitude(),
                lon=location.getLongitude(),
                accuracy_m=location.getAccuracy() if location.hasAccuracy() else None,
                speed_m_s=location.getSpeed() if location.hasSpeed() else None,
            )
        )

    @java_method("(Ljava/lang/String;)V")  # type: ignore[untyped-decorator]
    def onProviderDisabled(self, name: str) -> None:  # noqa: N802 - Android's name
        self._said(f"{name} was switched off")

    @java_method("(Ljava/lang/String;)V")  # type: ignore[untyped-decorator]
    def onProviderEnabled(self, name: str) -> None:  # noqa: N802 - Android's name
        self._said(f"{name} is on again")

    @java_method("(Ljava/lang/String;ILandroid/os/Bundle;)V")  # type: ignore[untyped-decorator]
    def onStatusChanged(self, name: str, status: int, extras: Any) -> None:  # noqa: ANN401, N802
        """Take no notice: deprecated since API 29, but some tablets still call it."""


class AndroidGnss:
    """A source of fixes on Android."""

    def __init__(
        self,
        context: Any,  # noqa: ANN401 - Android's
        sink: Callable[[Fix], None],
        said: Callable[[str], None],
    ) -> None:
        """Take the app's or the service's context, where fixes go, and where words go."""
        service = context.getSystemService(autoclass("android.content.Context").LOCATION_SERVICE)
        self._manager = cast("android.location.LocationManager", service)
        self._positions = _Positions(sink, said)

    def start(self) -> None:
        """Ask for a fix a second; the permission has been asked for at first use."""
        provider = autoclass("android.location.LocationManager").GPS_PROVIDER
        looper = autoclass("android.os.Looper").getMainLooper()
        self._manager.requestLocationUpdates(provider, EVERY_MS, 0.0, self._positions, looper)

    def stop(self) -> None:
        """End; Android calls no more."""
        self._manager.removeUpdates(self._positions)
