"""Frames, planes, rational curves, plane regions and meshes; knows nothing of scenes."""
