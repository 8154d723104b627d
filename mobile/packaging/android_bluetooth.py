"""A receiver over Bluetooth, paired in Android's settings before. Not run on a device yet."""

import threading
from collections.abc import Iterator
from typing import Final

from jnius import autoclass

SERIAL_PORT_PROFILE: Final = "00001101-0000-1000-8000-00805F9B34FB"  # Bluetooth assigned numbers


def paired() -> list[tuple[str, str]]:
    """Return name and address of each paired device."""
    adapter = autoclass("android.bluetooth.BluetoothAdapter").getDefaultAdapter()
    return [
        (device.getName(), device.getAddress()) for device in adapter.getBondedDevices().toArray()
    ]


def lines(address: str, ended: threading.Event) -> Iterator[str]:
    """Yield the sentences of a receiver until it is gone or *ended* is set; run it in a thread."""
    adapter = autoclass("android.bluetooth.BluetoothAdapter").getDefaultAdapter()
    profile = autoclass("java.util.UUID").fromString(SERIAL_PORT_PROFILE)
    socket = adapter.getRemoteDevice(address).createRfcommSocketToServiceRecord(profile)
    adapter.cancelDiscovery()
    socket.connect()
    stream = autoclass("java.io.InputStreamReader")(socket.getInputStream())
    reader = autoclass("java.io.BufferedReader")(stream)
    try:
        while not ended.is_set():
            line = reader.readLine()
            if line is None:
                return
            yield line
    finally:
        socket.close()
