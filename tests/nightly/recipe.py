"""Prints the recipe of a guide that follows the mention of a file: recipe.py GUIDE NAME."""

import pathlib
import re
import sys

guide, name = sys.argv[1:]
text = pathlib.Path(guide).read_text(encoding="utf-8")
found = re.search(r"^`" + re.escape(name) + r"`.*?^```\w+\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)
if not found:
    sys.exit(f"{guide} has no recipe for {name}")
sys.stdout.write(found.group(1))
