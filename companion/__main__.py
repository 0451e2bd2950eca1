"""``python -m companion`` is the command ``kerfside``."""

from companion.cli.main import main

raise SystemExit(main())
