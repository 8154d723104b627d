"""``python -m sync_server`` is the command ``strandline-server``."""

from sync_server.cli import main

if __name__ == "__main__":
    main(prog_name="strandline-server")
