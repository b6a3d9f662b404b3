"""Tests: preparation, storage, results, review and recomputation."""
