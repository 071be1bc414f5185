"""Turns a style sheet into a C header: its bytes, and the digest that the page's policy names.

usage: embed_css.py IN.css OUT.h
"""

import base64
import hashlib
import pathlib
import sys

css = pathlib.Path(sys.argv[1]).read_bytes()
digest = base64.b64encode(hashlib.sha256(css).digest()).decode()
data = ",\n    ".join(",".join(str(b) for b in css[i:i + 24]) for i in range(0, len(css), 24))
name = pathlib.Path(sys.argv[2]).stem  # report_css
pathlib.Path(sys.argv[2]).write_text(
    f"/* Made from {pathlib.Path(sys.argv[1]).name} by embed_css.py. */\n"
    f'#define TL_{name.upper()}_DIGEST "sha256-{digest}"\n'
    f"static const char tl_{name}[] = {{\n    {data},\n    0}};\n")
