#!/usr/bin/python3
"""Does the program work where it was installed? By `cmake --install`, and out of the Debian package.

install_test.py BUILD ROOT    the folder it was built in, the checkout
"""
import gzip
import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "scripts"))
import links_test  # noqa: E402

BUILD, ROOT = Path(), Path()
# Beside the shared libraries that the packer finds by itself: letters of reliefs.
NEEDED = ("fonts-dejavu-core", "libgmsh4.8", "libhdf5-103", "libfftw3-double3", "lib3mf1", "libfmt9", "libpng16-16",
          "libfreetype6", "libgomp1", "libstdc++6", "libc6")


def run(*command, **more):
    return subprocess.run([str(word) for word in command], capture_output=True, text=True, timeout=500, **more)


class Installed(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.place = tempfile.TemporaryDirectory(prefix="pellicle install ")
        cls.root = Path(cls.place.name)
        cls.done = run("cmake", "--install", BUILD, "--prefix", cls.root / "usr")
        # CPack cannot pack into a folder with a blank in its name.
        cls.packing = tempfile.TemporaryDirectory(prefix="pellicle-deb-")
        cls.packed = run("cpack", "-G", "DEB", "--config", BUILD / "CPackConfig.cmake", "-B", cls.packing.name)
        cls.packages = sorted(Path(cls.packing.name).glob("*.deb"))

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()
        cls.packing.cleanup()

    def works_in(self, prefix):
        """The program starts, checks a case that came with it, and its pages are there."""
        program, version = prefix / "bin/pellicle", re.search(r"VERSION ([\d.]+)", (ROOT / "CMakeLists.txt").read_text()
                                                              .split("project(pellicle")[1])[1]
        self.assertEqual(run(program, "--version").stdout, f"pellicle {version}\n")
        cases = sorted(path.parent.name for path in (prefix / "share/pellicle/cases").glob("*/case.toml"))
        self.assertEqual(cases, sorted(path.parent.name for path in (ROOT / "cases").glob("*/case.toml")))
        checked = run(program, "check", prefix / "share/pellicle/cases/herb-marker", cwd=self.root)
        self.assertEqual(checked.returncode, 0, checked.stderr)
        self.assertIn("mould.surface", checked.stdout)
        manual = gzip.decompress((prefix / "share/man/man1/pellicle.1.gz").read_bytes()).decode("ascii")
        self.assertEqual(manual, run(program, "--manual").stdout)
        for shell, file in (("bash", "bash-completion/completions/pellicle"),
                            ("fish", "fish/vendor_completions.d/pellicle.fish")):
            self.assertEqual((prefix / "share" / file).read_text(), run(program, "--completion", shell).stdout)
        doc = prefix / "share/doc/pellicle"
        self.assertEqual((doc / "copyright").read_text(), (ROOT / "LICENSE").read_text())
        self.assertTrue((prefix / "share/pellicle/docs/limits.md").is_file(), "what the pages of the cases link to")
        self.assertTrue((doc / "cases/herb-marker/README.md").is_file())
        faults, links = links_test.check(doc)
        # DEVELOPERS.md speaks of the checkout; the pages for users may not.
        self.assertEqual([fault for fault in faults if not fault.startswith("DEVELOPERS.md")], [])
        self.assertGreater(links, 100)

    def test_by_cmake(self):
        self.assertEqual(self.done.returncode, 0, self.done.stderr)
        self.works_in(self.root / "usr")
        texts = [path for path in (self.root / "usr/share").rglob("*") if path.suffix in (".md", ".toml", ".fish")]
        self.assertGreater(len(texts), 30)
        for path in texts:
            self.assertNotIn(str(ROOT) + "/", path.read_text(), path)

    def test_out_of_the_package(self):
        self.assertEqual(self.packed.returncode, 0, self.packed.stdout + self.packed.stderr)
        self.assertEqual(len(self.packages), 1, self.packages)
        architecture = run("dpkg", "--print-architecture").stdout.strip()
        self.assertRegex(self.packages[0].name, rf"^pellicle_[\d.]+_{architecture}\.deb$")
        fields = dict(re.findall(r"^(\S+): (.*)$", run("dpkg-deb", "-f", self.packages[0]).stdout, re.M))
        self.assertEqual((fields["Package"], fields["Architecture"]), ("pellicle", architecture))
        self.assertRegex(fields["Maintainer"], r"\.invalid>$")
        for name in NEEDED:
            self.assertRegex(fields["Depends"], rf"(^|, ){re.escape(name)}\b")
        listed = run("dpkg-deb", "-c", self.packages[0]).stdout.splitlines()
        self.assertGreater(len(listed), 60)
        for line in listed:
            self.assertRegex(line, r"^\S+ root/root .* \./(usr/.*|usr/)?$")
            self.assertNotRegex(line, r"__pycache__|-results/|/cases/run$")
        taken = self.root / "taken apart"
        self.assertEqual(run("dpkg", "-x", self.packages[0], taken).returncode, 0)
        self.works_in(taken / "usr")
        self.assertLess((taken / "usr/bin/pellicle").stat().st_size, (BUILD / "pellicle").stat().st_size + 1)

    def test_a_page_that_is_left_out_would_be_seen(self):
        doc = self.root / "usr/share/doc/pellicle"
        kept = shutil.move(doc / "docs/limits.md", self.root)
        try:
            self.assertNotEqual(links_test.check(doc)[0], [])
        finally:
            shutil.move(kept, doc / "docs/limits.md")


if __name__ == "__main__":
    ROOT, BUILD = Path(sys.argv.pop()).resolve(), Path(sys.argv.pop()).resolve()
    unittest.main()
