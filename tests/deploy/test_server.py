"""The production server reads its settings as they are meant."""

from gunicorn.app.wsgiapp import WSGIApplication

from deploy import server


def test_gunicorn_takes_every_setting_and_opens_no_socket_of_commands(monkeypatch):
    """As gunicorn itself reads them, which refuses a name that it does not know."""
    monkeypatch.setattr("sys.argv", ["gunicorn", "--config=python:deploy.server", "deploy.wsgi:application"])
    read = WSGIApplication("", prog="gunicorn").cfg
    assert read.control_socket_disable is True
    assert read.address == [("127.0.0.1", 8000)] and read.accesslog is None
    assert (read.timeout, read.threads, read.workers) == (server.timeout, server.threads, server.workers)
