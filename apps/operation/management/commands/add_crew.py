"""Add the first owner, or anyone else, from the command line."""

from argparse import ArgumentParser
from getpass import getpass
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import IntegrityError

from apps.operation import actions
from apps.operation.models import CrewMember


class Command(BaseCommand):
    help = "Add a person who may sign in; the password is asked for, or read from standard input."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--name", default="", help="the name shown; else the sign-in name")
        parser.add_argument("--owner", action="store_true", help="may change woods and settings")
        parser.add_argument("--password-stdin", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        # Never an argument: those stay in the shell's history and in the list of processes.
        password = input() if options["password_stdin"] else getpass("Password: ")
        role = CrewMember.Role.OWNER if options["owner"] else CrewMember.Role.CREW
        username = options["username"]
        try:
            # The form's rules hold here too; Django checks them nowhere by itself.
            validate_password(password)
            actions.add_crew(
                username=username,
                first_name=options["name"] or username.title(),
                role=role,
                password=password,
            )
        except ValidationError as refusal:
            raise CommandError(" ".join(refusal.messages)) from refusal
        # Asked of the database and not looked up first: somebody may add the same name meanwhile.
        except IntegrityError as refusal:
            raise CommandError(f"There is already a person called {username}.") from refusal
        self.stdout.write(f"{username} can sign in as {role.label.lower()}.")
