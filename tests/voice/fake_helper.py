"""A scripted helper for the client's tests: behaves as its first argument says."""

from __future__ import annotations

import json
import os
import sys
import time


def tell(event: str, **values: object) -> None:
    print(json.dumps({"event": event, **values}), flush=True)


def main() -> None:
    manner, log = sys.argv[1], sys.argv[2]
    with open(log, "a", encoding="utf-8") as file:
        file.write(f"started {os.getpid()}\n")
    if manner == "exit-1":
        sys.exit(1)
    tell("ready", engine="none here" if manner == "no-engine" else "", device="")
    for line in sys.stdin:
        message = json.loads(line)
        with open(log, "a", encoding="utf-8") as file:
            file.write(line)
        if message["do"] == "quit":
            return
        if message["do"] == "say":
            if manner == "dies-mid-line":
                print('{"event": "sta', end="", flush=True)
                os._exit(3)
            if manner == "hangs":
                time.sleep(60)
            tell("start", id=message["id"])
            if manner == "ends":
                tell("end", id=message["id"])


if __name__ == "__main__":
    main()
