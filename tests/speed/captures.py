# SPDX-License-Identifier: MIT
"""The invented captures that the speed benchmarks read: made once and kept."""
import os
import shutil
import subprocess

PACKERS = {"zst": ["zstd", "-q", "-f", "-3"], "gz": ["gzip", "-f", "-k", "-1"]}


class Captures:
    def __init__(self, make_capture, directory):
        self.make_capture = make_capture
        self.directory = os.path.join(directory, "captures")
        os.makedirs(self.directory, exist_ok=True)

    def get(self, lines, form="log", ids=0, still=False, packing=None):
        """The path of a capture. packing: None, "zst" or "gz"; None is returned when its packer
        is not there."""
        kind = (f"-{ids}-ids" if ids else "") + ("-still" if still else "")
        path = os.path.join(self.directory, f"{lines}{kind}.{form}")
        options = ["--form", form] + (["--ids", str(ids)] if ids else []) + ["--still"] * still
        # A capture by another version of the generator would not compare.
        newer = os.path.exists(path) and \
            os.path.getmtime(path) >= os.path.getmtime(self.make_capture)
        if not newer:
            with open(path + ".part", "wb") as out:
                subprocess.run([self.make_capture, *options, str(lines)], stdout=out, check=True)
            os.rename(path + ".part", path)
        return self.packed(path, packing) if packing else path

    @staticmethod
    def packed(path, packing):
        packer = PACKERS[packing]
        if not shutil.which(packer[0]):
            return None
        target = f"{path}.{packing}"
        if not os.path.exists(target) or os.path.getmtime(target) < os.path.getmtime(path):
            subprocess.run([*packer, path], check=True)
        return target

    @staticmethod
    def remove(path):
        os.unlink(path)
