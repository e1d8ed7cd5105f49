"""Plan files in: DXF and GeoJSON become works on the survey's own grid."""
