"""Views by resource: each reads its input, calls one function below the door and shows what it gave."""
