"""A score in, a bow plan out: read, planned, written back, drawn and played."""
