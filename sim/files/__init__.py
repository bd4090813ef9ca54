"""Reading what people and recorders write: bytes, numbers, columns, GPX. It knows no course and no car."""
