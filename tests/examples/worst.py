"""How bad does the ammonia get? The library from Python, by ctypes alone.

usage: worst.py SCENARIO [LIBRARY]
"""

import ctypes
import json
import pathlib
import sys
from ctypes import POINTER, byref, c_char_p, c_double, c_int, c_size_t, c_void_p

tl = ctypes.CDLL(sys.argv[2] if len(sys.argv) > 2 else "libtowerloop.so.0")
for name, answer, arguments in [
    ("tl_loop_read_text", c_int, [c_char_p, c_size_t, c_char_p, POINTER(c_char_p), c_size_t, POINTER(c_void_p)]),
    ("tl_loop_free", None, [c_void_p]),
    ("tl_loop_messages", c_size_t, [c_void_p]),
    ("tl_loop_message", c_char_p, [c_void_p, c_size_t]),
    ("tl_loop_run", c_int, [c_void_p]),
    ("tl_loop_fault", c_char_p, [c_void_p]),
    ("tl_loop_verdict", c_char_p, [c_void_p]),
    ("tl_loop_summary", c_char_p, [c_void_p]),
    ("tl_loop_rows", c_size_t, [c_void_p]),
    ("tl_loop_find_column", c_int, [c_void_p, c_char_p]),
    ("tl_loop_column", POINTER(c_double), [c_void_p, c_size_t]),
]:
    function = getattr(tl, name)
    function.restype, function.argtypes = answer, arguments


def main():
    text = pathlib.Path(sys.argv[1]).read_bytes()
    loop = c_void_p()
    try:
        if tl.tl_loop_read_text(text, len(text), b".", None, 0, byref(loop)) != 0:
            for i in range(tl.tl_loop_messages(loop)):
                print(tl.tl_loop_message(loop, i).decode(), file=sys.stderr)
            return 2
        if tl.tl_loop_run(loop) != 0:
            print(tl.tl_loop_fault(loop).decode(), file=sys.stderr)
            return 1
        print(tl.tl_loop_verdict(loop).decode())
        for limit in json.loads(tl.tl_loop_summary(loop))["limits"]:
            if limit["name"] == "un-ionised ammonia":
                print(f"{limit['name']}: {limit['worst']:.9g} {limit['unit']} at {limit['worst_time']}")
        column = tl.tl_loop_column(loop, tl.tl_loop_find_column(loop, b"tank_nh3_mgN_L"))
        print(f"highest row: {max(column[:tl.tl_loop_rows(loop)]):.9g}")
        return 0
    finally:
        tl.tl_loop_free(loop)


sys.exit(main())
