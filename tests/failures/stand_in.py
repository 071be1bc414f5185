"""A gnuplot that draws small pictures of its own, or fails in a way that is asked for.

It is a script for the shell: it starts fast, makes few calls of the system, and needs no gnuplot.
"""
import os
import pathlib
import random
import struct
import zlib

SVG = ('<?xml version="1.0"?><svg width="900" height="500" viewBox="0 0 900 500" '
       'xmlns="http://www.w3.org/2000/svg"><path d="M0 0 L9 9"/></svg>')
DRAW = f"""\
here=${{0%/*}}
drawn=$(/bin/cat *.gp *.dat 2>/dev/null | /usr/bin/cksum)
while IFS= read -r line; do
  case $line in "set output '"*) ;; *) continue ;; esac
  name=${{line#*\\'}}
  name=${{name%\\'}}
  case $name in
    *.svg) echo '{SVG}' | /bin/sed "s|L9 9|L9 ${{drawn% *}}|" > "$name" ;;
    probe_2.png) /bin/cat "$here/other.png" > "$name" ;;
    *) /bin/cat "$here/picture.png" > "$name" ;;
  esac || exit 1
done < main.gp
"""
# name: what it does instead of drawing, or after it
WAYS = {
    "draws": DRAW,
    "draws as far as it can": DRAW.replace("|| exit 1", "|| :"),
    "fails": "echo '\"main.gp\" line 7: no such luck' >&2\nexit 3\n",
    "fails after drawing": DRAW + "echo '\"main.gp\" line 7: no such luck' >&2\nexit 3\n",
    "dies": "kill -SEGV $$\n",
    "dies after drawing": DRAW + "kill -KILL $$\n",
    "draws nothing": "exit 0\n",
    "draws empty pictures": DRAW + "for n in *.svg *.png; do : > \"$n\"; done\n",
    # as on a full disk: the beginning of the last files is there, and it says that all went well
    "cuts SVG": DRAW + "for n in *.svg; do printf '%.100s' '" + SVG + "' > \"$n\"; done\n",
    "cuts PNG": DRAW + "for n in *.png; do case $n in probe*) continue ;; esac\n"
                "/usr/bin/head -c 900 \"$here/picture.png\" > \"$n\"; done\n",
    "talks": DRAW + "i=0\nwhile [ $i -lt 4000 ]; do echo 'a long complaint about nothing' >&2\n"
             "i=$((i+1)); done\n",
}
# with a child of its own, which keeps its end of the pipe; $here/pids tells both
HANGS = "here=${0%/*}\n/bin/sleep 1000 &\necho $$ $! > \"$here/pids\"\n/bin/sleep 1000\n"


def png(seed):
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    grey = random.Random(seed)
    rows = b"".join(b"\0" + bytes(grey.randrange(256) for _ in range(60)) for _ in range(30))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 60, 30, 8, 0, 0, 0, 0))
            + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


def put(folder, script):
    """A folder for the PATH with such a gnuplot alone in it."""
    folder = pathlib.Path(folder)
    folder.mkdir(exist_ok=True)
    (folder / "picture.png").write_bytes(png(1))
    (folder / "other.png").write_bytes(png(2))
    path = folder / "gnuplot"
    path.write_text("#!/bin/sh\n" + script)
    path.chmod(0o755)
    return os.fspath(folder)
