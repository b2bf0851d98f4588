"""A second checker of plans, written from the published schema, the README and a shop's own files.

It imports nothing of the project (``test_alone.py`` proves it) and was written without reading ``nestyield/audit``: shapely, numpy,
ezdxf, and the standard library. ``check.findings(plan_folder, shop_folder)`` is its door.
"""
