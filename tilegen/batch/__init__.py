"""Many variants of profiles: which, made where (here or on a cluster), kept how."""
