"""Receivers, cameras and folders of the machine the app runs on."""
