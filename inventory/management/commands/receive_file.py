"""Receive a delivery from a CSV or XLSX file."""

from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from inventory.materials.models import Supplier
from inventory.purchasing.actions.delivery_facts import DeliveryHeader
from inventory.purchasing.file_import.actions import Received, receive_file
from inventory.purchasing.file_import.reading import DeliveryFileError
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from studio.errors import MeniscusError, NeedsConfirmation
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.values.money import read_money, read_rate


class Command(BaseCommand):
    help = (
        "Receive a delivery from a CSV or XLSX file whose headings name its columns, such as "
        "Material, Pack size, Packs, Line price, Best before, Shelf place, Batch. "
        "Either all lines are received, or none and every line with an error is listed. "
        "Importing the same file again changes nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--supplier", required=True, metavar="NAME")
        parser.add_argument("--received-on", required=True, type=date.fromisoformat, metavar="YYYY-MM-DD")
        parser.add_argument(
            "--by", required=True, metavar="USER", help="User name of the person receiving it."
        )
        for name, what in (
            ("carriage", "Carriage"),
            ("duty", "Duty"),
            ("tax", "Tax that cannot be reclaimed"),
        ):
            parser.add_argument(f"--{name}", default="0", help=f"{what}, in the studio's currency.")
        parser.add_argument("--shared-by", choices=Delivery.SharedBy.values, default=Delivery.SharedBy.VALUE)
        parser.add_argument(
            "--currency", default="", help="Currency of the prices; the studio's own by default."
        )
        parser.add_argument(
            "--rate",
            default="",
            help="What one unit of --currency costs in the studio currency, such as 0.86. Every decimal counts.",
        )
        parser.add_argument(
            "--paid",
            default="",
            help="In place of --rate: what all the lines together cost in the studio currency.",
        )
        parser.add_argument("--reference", default="", help="Invoice or delivery note number.")
        parser.add_argument("--create-materials", action="store_true", help="Add new materials.")
        parser.add_argument(
            "--confirm",
            action="append",
            default=[],
            metavar="TOKEN",
            help="Confirm unusual amounts that the command has asked about, each by its token.",
        )
        parser.add_argument("--dry-run", action="store_true", help="Check the file and report; save nothing.")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with transaction.atomic():
                received = self._receive(options)
                self._tell(received)
                if options["dry_run"]:
                    self.stdout.write("Nothing was saved: this was a dry run.")
                    transaction.set_rollback(True)
        except DeliveryFileError as refusal:
            raise CommandError(f"Nothing was saved. Please fix these:\n{refusal}") from refusal
        except NeedsConfirmation as refusal:
            questions = [f"{each.text} --confirm {each.token}" for each in refusal.questions]
            raise CommandError(
                "Nothing was saved. Correct the file; or, if these amounts are right, confirm them:\n"
                + "\n".join(questions)
            ) from refusal
        except MeniscusError as refusal:
            raise CommandError(str(refusal)) from refusal

    def _receive(self, options: dict[str, Any]) -> Received:
        supplier = Supplier.objects.filter(name__iexact=options["supplier"]).first()
        if supplier is None:
            raise CommandError(
                f"There is no supplier called “{options['supplier']}”. Add it first, or check the spelling."
            )
        by = User.objects.filter(username=options["by"], is_active=True).first()
        if by is None or not by.may_write:
            raise CommandError(
                f"“{options['by']}” is not allowed to receive deliveries. Give --by an owner or helper."
            )
        try:
            raw = options["file"].read_bytes()
        except OSError as problem:
            raise CommandError(f"{options['file']} cannot be read: {problem.strerror}.") from problem
        return receive_file(
            raw=raw,
            header=_header(options, supplier),
            create_materials=options["create_materials"],
            submission=Submission(
                by=by, at=timezone.now(), on=timezone.localdate(), confirmed=frozenset(options["confirm"])
            ),
        )

    def _tell(self, received: Received) -> None:
        delivery = received.delivery
        formatter = Formatter.of(Studio.current())
        if not received.is_new:
            self.stdout.write(
                f"This file has already been imported as delivery {delivery.pk} "
                f"on {formatter.day(delivery.received_on)}. "
                "Nothing was saved."
            )
            return
        for material in received.created:
            self.stdout.write(f"New material: {material.name}")
        lines = list(delivery.lines.select_related("lot__material"))
        for line in lines:
            material = line.lot.material
            amount, cost = formatter.quantity(line.quantity, material.measure), formatter.money(line.landed)
            self.stdout.write(f"{line.lot.label} {material.name}: {amount}, {cost} landed")
        total = formatter.money(sum(line.landed for line in lines))
        self.stdout.write(
            f"Delivery {delivery.pk}, posting {delivery.posting_id}: {len(lines)} lines, {total}."
        )


def _header(options: dict[str, Any], supplier: Supplier) -> DeliveryHeader:
    """What the file does not say. Without --currency the prices are in the studio's own."""
    studio = Studio.current()
    comma = Formatter.of(studio).decimal_comma

    def amount(name: str) -> int:
        return read_money(options[name], studio.currency, decimal_comma=comma)

    return DeliveryHeader(
        supplier=supplier,
        received_on=options["received_on"],
        home_currency=studio.currency,
        currency=options["currency"] or studio.currency,
        rate=read_rate(options["rate"], decimal_comma=comma) if options["rate"] else None,
        paid=amount("paid") if options["paid"] else None,
        carriage=amount("carriage"),
        carriage_shared_by=options["shared_by"],
        duty=amount("duty"),
        tax=amount("tax"),
        reference=options["reference"],
    )
