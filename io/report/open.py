# A result of pellicle, opened in ParaView: sheet, mould and reliefs with fixed colour ranges.
#
#   paraview --script=open.py      shows it
#   pvpython open.py [PICTURE]     writes a picture, open.png beside this file, without asking; where there is no
#                                  display at all it borrows one from xvfb-run (packages xvfb, xauth)
import os
import shutil
import sys

if sys.platform.startswith("linux") and not os.environ.get("DISPLAY"):
    # Without a display ParaView ends in a crash.
    if not shutil.which("xvfb-run"):
        sys.exit("open.py: there is no display; start it from a desktop, or install xvfb and xauth")
    os.execvp("xvfb-run", ["xvfb-run", "-a", "pvpython", os.path.abspath(__file__), *sys.argv[1:]])

from paraview import simple  # noqa: E402  the display comes first

# The window has a view before this runs. It finds the times by itself, and hangs if its scene is set from here.
IN_WINDOW = simple.GetActiveView() is not None
SHEET = {{sheet}}
MOULD = {{mould}}
RELIEFS = {{reliefs}}
# Lowest and highest value of each field that is shown, the same for all times.
RANGES = {{ranges}}
BOX_MM = {{box}}
# Sheet and mould touch: so far apart, mm, the upper one is seen. The sheet is too coarse for reliefs and spans from
# letter to letter, so these are shown above it, by what they are high, on slopes by no more than 1 mm.
APART_MM, MOST_RELIEF_MM = 0.1, 1.0


def folder():
    """Where the results lie: beside this script, or else where it was started."""
    here = globals().get("__file__")
    return os.path.dirname(os.path.abspath(here)) if here else os.getcwd()


def opened(name):
    """A reader that has looked at its file. The readers want whole paths."""
    path = os.path.join(folder(), name)
    if not os.path.exists(path):
        sys.exit("open.py: found no " + path + "; start it in the folder of the results")
    reader = simple.Xdmf3ReaderS(registrationName=name, FileName=[path])
    reader.UpdatePipeline()
    return reader


def coloured(reader, view, field, beside):
    shown = simple.Show(reader, view)
    simple.ColorBy(shown, ("POINTS", field))
    table = simple.GetColorTransferFunction(field)
    table.AutomaticRescaleRangeMode = "Never"
    table.RGBPoints = {{colours}}
    table.ColorSpace = "RGB"
    table.RescaleTransferFunction(*RANGES[field])
    bar = simple.GetScalarBar(table, view)
    bar.Title, bar.ComponentTitle = field, ""
    bar.TitleColor = bar.LabelColor = [0, 0, 0]
    bar.AutomaticLabelFormat = 0
    bar.LabelFormat = bar.RangeLabelFormat = "%-#.3g"
    bar.WindowLocation = beside
    bar.Visibility = 1
    shown.SetScalarBarVisibility(view, True)
    return shown


def look_at_box(view):
    """Slantwise from above, near enough to fill the picture with the mould."""
    low, high = BOX_MM
    middle = [0.5 * (a + b) for a, b in zip(low, high)]
    size = sum((b - a) ** 2 for a, b in zip(low, high)) ** 0.5
    view.CameraParallelProjection = 1
    view.CameraParallelScale = 0.36 * size
    view.CameraFocalPoint = middle
    view.CameraPosition = [middle[0] - 0.5 * size, middle[1] - 1.4 * size, middle[2] + 1.3 * size]
    view.CameraViewUp = [0, 0, 1]


def main():
    simple._DisableFirstRenderCameraReset()  # the camera is set below
    view = simple.GetActiveViewOrCreate("RenderView")
    view.UseColorPaletteForBackground = 0
    view.Background = [1, 1, 1]
    view.OrientationAxesLabelColor = [0, 0, 0]
    if SHEET:
        sheet = opened(SHEET)
        coloured(sheet, view, "thickness (mm)", "Lower Right Corner")
        if IN_WINDOW:
            view.ViewTime = sheet.TimestepValues[-1]
        else:
            scene = simple.GetAnimationScene()
            scene.UpdateAnimationUsingDataTimeSteps()
            scene.AnimationTime = sheet.TimestepValues[-1]
    if MOULD:
        mould = simple.Show(opened(MOULD), view)
        simple.ColorBy(mould, None)
        mould.Position = [0, 0, -APART_MM]
        mould.DiffuseColor = mould.AmbientColor = [0.72, 0.72, 0.70]
    for name in RELIEFS:
        source = opened(name)
        low, high = source.GetDataInformation().GetBounds()[4:]
        relief = coloured(source, view, "gap (mm)", "Upper Right Corner")
        relief.Position = [0, 0, APART_MM + min(high - low, MOST_RELIEF_MM)]
    look_at_box(view)
    simple.Render(view)
    if not IN_WINDOW:
        view.ViewSize = [1200, 800]
        picture = sys.argv[1] if len(sys.argv) > 1 else os.path.join(folder(), "open.png")
        simple.SaveScreenshot(picture, view)
        print("written: " + picture)


main()
