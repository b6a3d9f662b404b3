"""One module per page. A view is `(request, viewer, ...)`; `door.page` wraps it in `urls`."""
