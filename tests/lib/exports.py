"""What libtowerloop exports is what its installed headers declare, no more and no less.

usage: exports.py LIBRARY HEADER ...
"""

import pathlib
import re
import subprocess
import sys

library, headers = sys.argv[1], sys.argv[2:]

listing = subprocess.run(["nm", "-D", "--defined-only", library], check=True, capture_output=True,
                         text=True).stdout
exported = {line.split()[-1] for line in listing.splitlines()}

declared, bare = set(), False
for header in headers:
    code = re.sub(r"/\*.*?\*/", "", pathlib.Path(header).read_text(encoding="utf-8"), flags=re.DOTALL)
    code = re.sub(r"^#.*$", "", code, flags=re.MULTILINE)
    declared.update(re.findall(r"\bTL_API\s[^;(]*?\b(\w+)\(", code))

    for name in re.findall(r"^(?!TL_API)\w[\w *]*\b(tl_\w+)\(", code, flags=re.MULTILINE):
        print(f"{header}: {name}: declared without TL_API")
        bare = True

for name in sorted(exported - declared):
    print(f"{name}: exported, but no installed header declares it")
for name in sorted(declared - exported):
    print(f"{name}: declared, but not exported")
print(f"{len(exported)} exported, {len(declared)} declared")
sys.exit(bare or exported != declared or len(declared) < 10)
