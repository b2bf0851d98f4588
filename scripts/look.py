"""Turn every page, sheet and drawing of a plan's folder to PNG, to be looked at.

Usage: python scripts/look.py PLAN_FOLDER PICTURES_FOLDER [WORD ...]

Needs headless Chromium and pdftoppm on the path, resvg_py and matplotlib. With words, only files whose name holds one.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

WIDTHS = (390, 1280)
PART = 15000
MOST_PARTS = 6


def browser() -> str:
    """Return the browser's program."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        found = shutil.which(name)
        if found:
            return found
    raise SystemExit("no Chromium on the path")


def run_browser(*args: str) -> None:
    """Run the browser once, headless, with a profile of its own."""
    with tempfile.TemporaryDirectory() as profile:
        base = [browser(), "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
        subprocess.run(
            [*base, f"--user-data-dir={profile}", *args], check=True, capture_output=True, timeout=180
        )


def report_pictures(page: Path, out: Path) -> None:
    """Take the report at both widths by day and by night, and as printed on A4 and Letter."""
    text = page.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        for width in WIDTHS:
            for mode in ("light", "dark"):
                # A frame of the wanted width: the window itself cannot be made as narrow as a phone.
                dark = "@media screen and (prefers-color-scheme: dark)"
                inner = text.replace(dark, "@media screen" if mode == "dark" else "@media not all")
                (Path(folder) / "page.html").write_text(inner, encoding="utf-8")
                frame = Path(folder) / f"frame-{width}.html"
                # Taller than a browser's largest picture: taken in parts.
                for part in range(MOST_PARTS):
                    frame.write_text(
                        "<!DOCTYPE html><style>body{margin:0;overflow:hidden}"
                        f"iframe{{border:0;width:{width}px;height:{PART * MOST_PARTS}px;"
                        f"margin-top:-{part * PART}px}}</style><iframe src=page.html></iframe>",
                        encoding="utf-8",
                    )
                    shot = Path(folder) / "shot.png"
                    run_browser(
                        f"--window-size={max(width, 500)},{PART}", f"--screenshot={shot}", frame.as_uri()
                    )
                    if not slices(shot, out, f"report-{width}-{mode}-{part + 1}", width):
                        break
        for paper, (w, h) in {"a4": (8.27, 11.69), "letter": (8.5, 11.0)}.items():
            sized = Path(folder) / f"{paper}.html"
            sized.write_text(text.replace("@page {", f"@page {{ size: {w}in {h}in;", 1), encoding="utf-8")
            pdf = out / f"report-{paper}.pdf"
            run_browser("--no-pdf-header-footer", f"--print-to-pdf={pdf}", sized.as_uri())
            pdf_pictures(pdf, out, 60)


def slices(shot: Path, out: Path, name: str, width: int) -> bool:
    """Cut a tall picture into pages without its empty end; return whether it was full."""
    from PIL import Image

    with Image.open(shot) as whole:
        page = whole.convert("RGB").crop((0, 0, width, whole.height))
    last = page.height
    ground = page.getpixel((2, page.height - 2))
    while last > 50 and all(page.getpixel((x, last - 1)) == ground for x in range(0, width, 7)):
        last -= 25
    step = 1500
    for k, top in enumerate(range(0, last, step), start=1):
        page.crop((0, top, width, min(last, top + step))).save(out / f"{name}-{k:02d}.png")
    return last > page.height - 50


def pdf_pictures(pdf: Path, out: Path, dpi: int) -> None:
    """Turn every page of a PDF to PNG."""
    stem = out / f"{pdf.parent.name}-pdf-{pdf.stem}"
    subprocess.run(["pdftoppm", "-png", "-r", str(dpi), str(pdf), str(stem)], check=True)


def svg_picture(path: Path, out: Path) -> None:
    """Turn an SVG to PNG, about 1400 pixels wide."""
    import resvg_py

    data = resvg_py.svg_to_bytes(svg_string=path.read_text(encoding="utf-8"), width=1400, dpi=96)
    (out / f"{path.parent.name}-{path.stem}.png").write_bytes(bytes(data))


def dxf_picture(path: Path, out: Path) -> None:
    """Audit a DXF and draw it as a drawing program would, on a light ground."""
    import ezdxf
    import matplotlib
    from ezdxf.addons.drawing import Frontend, RenderContext
    from ezdxf.addons.drawing.config import BackgroundPolicy, Configuration
    from ezdxf.addons.drawing.matplotlib import MatplotlibBackend

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    doc = ezdxf.readfile(path)
    auditor = doc.audit()
    if auditor.errors or auditor.fixes:
        print(f"{path.name}: {len(auditor.errors)} errors, {len(auditor.fixes)} to mend")
    figure = plt.figure(figsize=(14, 9))
    axes = figure.add_axes((0, 0, 1, 1))
    config = Configuration(background_policy=BackgroundPolicy.WHITE)
    Frontend(RenderContext(doc), MatplotlibBackend(axes), config=config).draw_layout(doc.modelspace())
    figure.savefig(out / f"{path.parent.name}-{path.stem}-dxf.png", dpi=100)
    plt.close(figure)


def main() -> None:
    """Look at everything below a folder."""
    if len(sys.argv) < 3:
        raise SystemExit(__doc__)
    folder, out, words = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3:]
    out.mkdir(parents=True, exist_ok=True)
    for path in sorted(folder.rglob("*")):
        if words and not any(w in path.relative_to(folder).as_posix() for w in words):
            continue
        if path.suffix == ".html":
            report_pictures(path, out)
        elif path.suffix == ".svg":
            svg_picture(path, out)
        elif path.suffix == ".dxf":
            dxf_picture(path, out)
        elif path.suffix == ".pdf":
            pdf_pictures(path, out, 90)
    print(f"pictures in {out}")


if __name__ == "__main__":
    main()
