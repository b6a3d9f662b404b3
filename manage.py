"""Django's command line, with Benchnight's settings."""

import os
import sys

from django.core.management import execute_from_command_line

from deploy import private_files

if __name__ == "__main__":
    private_files.set_umask()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
    execute_from_command_line(sys.argv)
