"""Makes dxfwrite.dxf and gdal.dxf; needs dxfwrite 1.2.2 and pyogrio 0.13.0 in a throw-away venv."""

import math
import sys

import numpy as np
import pyogrio
import shapely
from dxfwrite import DXFEngine

out = sys.argv[1]

drawing = DXFEngine.drawing(out + "/dxfwrite.dxf")
for name in ("BODY", "HOLES", "POCKET"):
    drawing.add_layer(name)
drawing.add(DXFEngine.line((0, 0), (300, 0), layer="BODY"))
drawing.add(DXFEngine.arc(80, (300, 80), -90, 90, layer="BODY"))
drawing.add(DXFEngine.line((300, 160), (0, 160), layer="BODY"))
drawing.add(DXFEngine.line((0, 160), (0, 0), layer="BODY"))
polyline = DXFEngine.polyline(layer="POCKET")
polyline.add_vertices([(40, 40), (100, 40), (100, 100), (40, 100)])
polyline.close()
drawing.add(polyline)
block = DXFEngine.block("KNOB")
block.add(DXFEngine.circle(5, (0, 0), layer="0"))
drawing.blocks.add(block)
drawing.add(DXFEngine.insert("KNOB", (200, 80), xscale=2, yscale=2, zscale=2, layer="HOLES"))
drawing.add(DXFEngine.circle(7.5, (250, 80), layer="HOLES"))
drawing.save()

hexagon = [(100 * math.cos(math.radians(60 * k)), 100 * math.sin(math.radians(60 * k))) for k in range(6)]
square = [(-20, -20), (20, -20), (20, 20), (-20, 20)]
rings = [shapely.LineString([*points, points[0]]).wkb for points in (hexagon, square)]
pyogrio.raw.write(
    out + "/gdal.dxf",
    geometry=np.array(rings, dtype=object),
    field_data=[np.array(["BODY", "POCKET"], dtype=object)],
    fields=["Layer"],
    geometry_type="LineString",
    driver="DXF",
    crs=None,
)
