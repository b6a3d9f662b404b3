"""The data page: releases, API, look."""
