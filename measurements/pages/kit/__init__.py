"""Pages of kit: register, tables, lists, labels, hand-overs and loans."""
