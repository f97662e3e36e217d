#!/usr/bin/python3
"""Do ParaView's three XDMF readers see what is in a result folder? Started plainly, it runs itself under pvbatch.

viewer_test.py DIR               an existing result folder
viewer_test.py --pellicle BIN    runs a small case first
"""
import glob
import math
import os
import subprocess
import sys
import tempfile

READERS = ("Xdmf3ReaderS", "Xdmf3ReaderT", "XDMFReader")
NODE_FIELDS = {
    "flat (mm)", "thickness (mm)", "stretch 1", "stretch 2", "gap (mm)", "contact pressure (MPa)", "touched (s)",
    "temperature (C)", "finest radius (mm)", "capture depth 0.2mm stroke (mm)", "capture depth 0.5mm stroke (mm)",
    "capture depth 1.0mm stroke (mm)", "pocket", "pocket pressure (MPa)"}
TRIANGLE_FIELDS = {"thickness (mm) per triangle", "wrinkle per triangle"}
RELIEF_FIELDS = {"gap (mm)", "contact pressure (MPa)"}
# So stiff that it hardly bends: seconds less.
RELIEF = """[[relief]]
name = "word"
source = { text = "I", size = "3 mm", depth = "0.3 mm" }
grid = "0.05 mm"
angle = "20°"
state = { thickness = "0.5 mm", shear_modulus = "100 MPa", pressure = "1 bar" }
"""
PICTURE = "thickness_at_the_end.png"
SINGLE = 1e-5  # relative; times pass through text, values are 32 bit


def close(a, b):
    return math.isclose(a, b, rel_tol=SINGLE, abs_tol=1e-9)


def start_under_pvbatch(folder, pictures):
    """pvbatch aborts without a display, so it gets a virtual one."""
    command = ["xvfb-run", "-a", "pvbatch", os.path.abspath(__file__), "--inside", folder, pictures]
    for _ in range(3):  # on a busy machine the display is now and then taken, or not there yet: that is not the viewer
        done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=600)
        print(done.stdout, end="")
        if "bad X server connection" not in done.stdout:
            break
    # pvbatch's exit code is not that of the script in every version: the last line counts.
    if not done.stdout.rstrip().endswith("viewer test passed"):
        sys.exit("viewer test failed")
    picture = os.path.join(pictures, PICTURE)
    if not os.path.exists(picture) or os.path.getsize(picture) < 5000:
        sys.exit(f"no picture in {picture}")


def expected_frames(folder):
    """What HDF5 says, read without ParaView. A structured minimum: nodes, triangles, time, range of thickness."""
    import h5py
    frames = []
    for name in sorted(glob.glob(os.path.join(glob.escape(folder), "sheet_*.h5"))):
        with h5py.File(name, "r") as file:
            thickness = file["/node/thickness_mm"][:]
            frames.append((float(file.attrs["time_s"]), len(file["/points_mm"]), len(file["/triangles"]),
                           float(thickness.min()), float(thickness.max())))
    return frames


def array_names(attributes):
    return {attributes.GetArray(i).GetName() for i in range(len(attributes.keys()))}


def check_reader(simple, kind, folder, frames):
    make = getattr(simple, kind)
    path = os.path.join(folder, "sheet.xdmf")
    reader = make(FileNames=[path]) if kind == "XDMFReader" else make(FileName=[path])
    reader.UpdatePipelineInformation()
    times = list(reader.TimestepValues)
    assert len(times) == len(frames), f"{kind}: {len(times)} times, {len(frames)} frames"
    for time, (time_s, nodes, triangles, thinnest, thickest) in zip(times, frames):
        assert close(time, time_s), f"{kind}: time {time}, file says {time_s}"
        reader.UpdatePipeline(time)
        info = reader.GetDataInformation()
        assert info.GetNumberOfPoints() == nodes, f"{kind}: {info.GetNumberOfPoints()} points at {time}, not {nodes}"
        assert info.GetNumberOfCells() == triangles, f"{kind}: {info.GetNumberOfCells()} cells at {time}"
        missing = NODE_FIELDS - array_names(reader.PointData) | TRIANGLE_FIELDS - array_names(reader.CellData)
        assert not missing, f"{kind}: {sorted(missing)} missing at {time}"
        flat = reader.PointData["flat (mm)"]
        assert flat.GetNumberOfComponents() == 2, f"{kind}: flat (mm) has {flat.GetNumberOfComponents()} components"
        low, high = reader.PointData["thickness (mm)"].GetRange()
        assert close(low, thinnest) and close(high, thickest), f"{kind}: thickness {low} to {high} at {time}"
    return reader


def check_mould(simple, kind, folder):
    import h5py
    path = os.path.join(folder, "mould.xdmf")
    make = getattr(simple, kind)
    reader = make(FileNames=[path]) if kind == "XDMFReader" else make(FileName=[path])
    reader.UpdatePipeline()
    with h5py.File(os.path.join(folder, "mould.h5"), "r") as file:
        triangles = len(file["/triangles"])
        low, high = file["/points_mm"][:].min(axis=0), file["/points_mm"][:].max(axis=0)
    info = reader.GetDataInformation()
    assert info.GetNumberOfCells() == triangles, f"{kind}: mould of {info.GetNumberOfCells()} cells"
    bounds = info.GetBounds()
    for k in range(3):
        assert close(bounds[2 * k], low[k]) and close(bounds[2 * k + 1], high[k]), f"{kind}: mould box {bounds}"


def check_relief(simple, kind, path):
    """Mould and sheet over the patch side by side, with their fields."""
    import h5py
    make = getattr(simple, kind)
    reader = make(FileNames=[path]) if kind == "XDMFReader" else make(FileName=[path])
    reader.UpdatePipeline()
    with h5py.File(path.removesuffix(".xdmf") + ".h5", "r") as file:
        triangles, widest = len(file["/triangles"]), float(file["/gap_mm"][:].max())
        points = [file[f"/{name}/points_mm"][:] for name in ("mould", "sheet")]
    info = reader.GetDataInformation()
    assert info.GetNumberOfCells() == 2 * triangles, f"{kind}: relief of {info.GetNumberOfCells()} cells"
    assert info.GetNumberOfPoints() == sum(map(len, points)), f"{kind}: relief of {info.GetNumberOfPoints()} points"
    bounds = info.GetBounds()
    for k in range(3):
        low, high = min(p[:, k].min() for p in points), max(p[:, k].max() for p in points)
        assert close(bounds[2 * k], low) and close(bounds[2 * k + 1], high), f"{kind}: relief box {bounds}"
    missing = RELIEF_FIELDS - array_names(reader.PointData)
    assert not missing, f"{kind}: {sorted(missing)} missing in a relief"
    assert close(reader.PointData["gap (mm)"].GetRange()[1], widest), f"{kind}: gap of a relief"


def draw(simple, reader, frames, picture):
    """Thickness at the end, in one colour range for all frames, on white with dark words."""
    view = simple.CreateRenderView()
    view.ViewSize = [900, 600]
    view.UseColorPaletteForBackground = 0
    view.Background = [1, 1, 1]
    view.OrientationAxesVisibility = 0
    shown = simple.Show(reader, view)
    simple.ColorBy(shown, ("POINTS", "thickness (mm)"))
    table = simple.GetColorTransferFunction("thickness (mm)")
    table.AutomaticRescaleRangeMode = "Never"
    table.RescaleTransferFunction(min(f[3] for f in frames), max(f[4] for f in frames))
    legend = simple.GetScalarBar(table, view)
    legend.Title = "thickness (mm)"
    legend.ComponentTitle = ""
    legend.TitleColor = legend.LabelColor = [0, 0, 0]
    legend.Visibility = 1
    scene = simple.GetAnimationScene()
    scene.UpdateAnimationUsingDataTimeSteps()
    scene.AnimationTime = reader.TimestepValues[-1]
    view.CameraPosition = [1, -1.6, 1.1]
    view.CameraFocalPoint = [0, 0, 0]
    view.CameraViewUp = [0, 0, 1]
    simple.ResetCamera(view)
    simple.SaveScreenshot(picture, view)


def inside(folder, pictures):
    from paraview import simple
    frames = expected_frames(folder)
    assert len(frames) >= 2, "a run has at least its flat and its final frame"
    assert [f[0] for f in frames] == sorted({f[0] for f in frames}), "times rise"
    readers = 0
    reliefs = sorted(glob.glob(os.path.join(glob.escape(folder), "relief_*.xdmf")))
    for kind in READERS:
        reader = check_reader(simple, kind, folder, frames)
        if os.path.exists(os.path.join(folder, "mould.xdmf")):
            check_mould(simple, kind, folder)
        for path in reliefs:
            check_relief(simple, kind, path)
        readers += 1
        if kind == READERS[0]:
            draw(simple, reader, frames, os.path.join(pictures, PICTURE))
    print(f"{readers} readers, {len(frames)} frames, {len(NODE_FIELDS | TRIANGLE_FIELDS)} fields, {len(reliefs)} reliefs")
    print("viewer test passed" if readers == 3 else "readers are missing", flush=True)


def main():
    if len(sys.argv) == 4 and sys.argv[1] == "--inside":
        inside(sys.argv[2], sys.argv[3])
    elif len(sys.argv) == 3 and sys.argv[1] == "--pellicle":
        sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "cli"))
        sys.dont_write_bytecode = True
        import small_case
        # A blank and an accent in the path: a reader that minds them would be found here.
        with tempfile.TemporaryDirectory(prefix="pellicle kräuter ") as place:
            case = small_case.write(os.path.join(place, "block"))
            with open(os.path.join(case, "case.toml"), "a", encoding="utf-8") as file:
                file.write(RELIEF)
            out = os.path.join(place, "results")
            subprocess.run([sys.argv[2], "run", case, "--out", out, "--quiet"], check=True, stdout=subprocess.DEVNULL)
            assert os.path.exists(os.path.join(out, "relief_word.xdmf")), "no relief to look at"
            start_under_pvbatch(out, place)
    elif len(sys.argv) == 2:
        start_under_pvbatch(os.path.abspath(sys.argv[1]), tempfile.mkdtemp(prefix="pellicle-picture-"))
    else:
        sys.exit(__doc__)


main()
