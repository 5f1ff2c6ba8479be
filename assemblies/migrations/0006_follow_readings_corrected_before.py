from django.db import migrations
from django.db.models import Q


def follow(apps, schema_editor):
    """Ended stays whose readings were corrected before have the right hours beside them too.

    The daily working out of all due dates, or `manage.py refresh_dues`, reads them.
    """
    readings = apps.get_model("fleet", "HourReading").objects
    counts = Q(doubt="") | Q(accepted_at__isnull=False)
    right = readings.filter(counts, replaces__isnull=False).select_related("meter", "replaces")
    for reading in right.order_by("id").iterator():
        if reading.machine_h != reading.replaces.machine_h:
            _follow(apps, reading)


def _follow(apps, right):
    wrong = right.replaces
    was, on = wrong.machine_h, wrong.read_on
    here = {"position__machine": right.meter.machine_id, "position__counts": right.meter.counts}
    day = Q(from_earliest_on=on, from_latest_on=on) | Q(to_on=on)
    stays = apps.get_model("assemblies", "Stay").objects.filter(day, is_open=False, **here)
    for stay in stays.select_related("assembly").order_by("id"):
        ran = _ran(stay)
        began = stay.from_earliest_on == stay.from_latest_on == on and _began(stay) == was
        ended = stay.to_on == on and _ended(stay) == was
        if began:
            stay.from_corrected_h = right.machine_h
        if ended:
            stay.to_corrected_h = right.machine_h
        if began or ended:
            stay.save(update_fields=["from_corrected_h", "to_corrected_h"])
            hose = apps.get_model("assemblies", "Assembly").objects.get(pk=stay.assembly_id)
            hose.earlier_h += _ran(stay) - ran
            hose.save(update_fields=["earlier_h"])


def _began(stay):
    return stay.from_machine_h if stay.from_corrected_h is None else stay.from_corrected_h


def _ended(stay):
    return stay.to_machine_h if stay.to_corrected_h is None else stay.to_corrected_h


def _ran(stay):
    if _began(stay) is None or _ended(stay) is None:
        return 0
    return max(_ended(stay) - _began(stay), 0)


class Migration(migrations.Migration):
    dependencies = [("assemblies", "0005_keep_corrected_hours_beside_a_stay")]

    operations = [migrations.RunPython(follow, migrations.RunPython.noop)]
