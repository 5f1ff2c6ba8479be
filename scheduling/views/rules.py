"""Life rules: seen, taken over from a document, written, approved, withdrawn."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.actions.refusals import Refused
from fleet.models import Person
from fleet.permissions import NotAllowed, may_anywhere
from fleet.queries.reach import sites_where
from fleet.views.forms import refuse
from fleet.views.gate import person_of, politely
from scheduling.actions.rules import (
    RULE,
    apply_preset,
    approve_rule,
    propose_rule,
    revise_rule,
    withdraw_rule,
)
from scheduling.forms.rules import PresetForm, RuleForm, WithdrawForm
from scheduling.models import LifeRule
from scheduling.queries.rules import (
    draft_of,
    latest_revision,
    rule_for,
    rules_seen,
    withdrawn_rules,
)


@politely
def rules(request: HttpRequest) -> HttpResponse:
    """The rules that hold at the person's sites; and taking over published limits."""
    person, now = person_of(request), timezone.now()
    sites = sites_where(person, "approve_rules")
    form = PresetForm(request.POST or None, sites=sites)
    if request.method == "POST" and form.is_valid():
        code, site = form.cleaned_data["preset"], form.cleaned_data["site"]
        try:
            apply_preset(preset=code, site=site, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"The rule counts at {site}; dates are being worked out.")
            return redirect("scheduling:rules")
    context = {
        "lines": rules_seen(person),
        "withdrawn": withdrawn_rules(person),
        "form": form if sites else None,
        "may_edit": may_anywhere(person, "edit_rules"),
        "may_approve": may_anywhere(person, "approve_rules"),
    }
    return render(request, "scheduling/rules.html", context)


@politely
def rule_add(request: HttpRequest) -> HttpResponse:
    """A rule of the site's own, as a draft."""
    person, now = person_of(request), timezone.now()
    sites = sites_where(person, "edit_rules")
    if not sites:
        raise NotAllowed("Writing life rules is not among your rights at any site.")
    form = RuleForm(request.POST or None, sites=sites, initial={"site": sites[0]})
    if request.method == "POST" and form.is_valid():
        try:
            propose_rule(name=form.cleaned_data["name"], facts=form.facts(), person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "The draft stands. It counts from its approval on.")
            return redirect("scheduling:rules")
    return render(request, "scheduling/rule_form.html", {"form": form, "rule": None})


@politely
def rule_revise(request: HttpRequest, rule_id: int) -> HttpResponse:
    """The next revision of a rule, as a draft; what is approved counts until then."""
    person, now = person_of(request), timezone.now()
    rule = _rule(person, rule_id)
    latest = latest_revision(rule)
    initial = RuleForm.facts_of(latest) if latest else {}
    sites = sites_where(person, "edit_rules")
    form = RuleForm(request.POST or None, sites=sites, named=False, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            revise_rule(header=rule, facts=form.facts(), person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, "The draft stands. It counts from its approval on.")
            return redirect("scheduling:rules")
    return render(request, "scheduling/rule_form.html", {"form": form, "rule": rule})


@politely
def rule_approve(request: HttpRequest, rule_id: int) -> HttpResponse:
    """Looking a draft over, and letting it count."""
    person, now = person_of(request), timezone.now()
    rule = _rule(person, rule_id)
    draft = draft_of(rule)
    if draft is None:
        raise Http404
    if request.method == "POST":
        seen = request.POST.get("seen", "")
        try:
            approve_rule(revision=draft, seen=seen, person=person, at=now)
        except Refused as refusal:
            messages.error(request, refusal.sentence)
        else:
            messages.success(request, f"“{rule}” counts; dates are being worked out.")
            return redirect("scheduling:rules")
    lines = [line for line in rules_seen(person) if line.rule_id == rule.pk]
    context = {"rule": rule, "line": lines[0], "seen": RULE.fingerprint(draft)}
    return render(request, "scheduling/rule_approve.html", context)


@politely
def rule_withdraw(request: HttpRequest, rule_id: int) -> HttpResponse:
    """Letting a rule count no more."""
    person, now = person_of(request), timezone.now()
    rule = _rule(person, rule_id)
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]
        try:
            withdraw_rule(header=rule, reason=reason, person=person, at=now)
        except Refused as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, f"“{rule}” counts no more; dates are being worked out.")
            return redirect("scheduling:rules")
    return render(request, "scheduling/rule_withdraw.html", {"form": form, "rule": rule})


def _rule(person: Person, rule_id: int) -> LifeRule:
    rule = rule_for(person, rule_id)
    if rule is None:
        raise Http404
    return rule
