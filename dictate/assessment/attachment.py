"""Attachment loss, pockets and pseudopockets, site by site.

Attachment loss at a site = probing depth + recession - enlargement, in mm (source: AVDC
nomenclature, Periodontal Disease: probing depth plus recession from the cemento-enamel junction;
where the gingiva is enlarged its margin stands coronal to the junction).

Only measurements of one and the same site are added. A recession or an enlargement that was
charted without a site counts only together with a depth that has no site either; it is never
added to the depth at some site, for nobody said where it was.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dictate.assessment.tooth import Tooth, number_of, tooth_in
from dictate.chart.chart import Chart
from dictate.chart.finding import same_place

_MEASURES = ("pocket", "recession", "enlargement")


@dataclass(frozen=True)
class SiteAttachment:
    """What was measured at one site of a tooth, in mm; None where it was not charted.

    `place` is the one name that a site has (`same_place`), None where no site was stated;
    `normal_most_mm` is the deepest normal sulcus of the species.
    """

    tooth: int
    place: str | None
    depth_mm: float | None
    recession_mm: float | None
    enlargement_mm: float | None
    normal_most_mm: float

    @property
    def loss_mm(self) -> float | None:
        """Attachment loss in mm, not below 0. Recession or enlargement that was not charted
        counts as none. Without a depth it is the recession alone, the least that is lost
        (`at_least`), and None where there is no recession either."""
        margin = (self.recession_mm or 0) - (self.enlargement_mm or 0)
        if self.depth_mm is None:
            return margin if margin > 0 else None
        return max(0.0, round(self.depth_mm + margin, 6))

    @property
    def at_least(self) -> bool:
        """Whether the loss is recession alone, the depth at this site being unknown."""
        return self.depth_mm is None and self.loss_mm is not None

    @property
    def beyond_normal(self) -> bool:
        """Whether attachment is lost: the margin has receded, however little, or the loss is
        more than the species' deepest normal sulcus. A depth within normal with no recession is
        a sulcus and counts as no loss (source: normal sulcus depth, common practice)."""
        loss = self.loss_mm
        if loss is None:
            return False
        receded = (self.recession_mm or 0) > (self.enlargement_mm or 0)
        return receded or loss > self.normal_most_mm

    @property
    def pocket(self) -> Literal["sulcus", "pocket", "pseudopocket"] | None:
        """A "sulcus" up to the species' normal depth; deeper a "pocket", or a "pseudopocket"
        where enlargement makes the depth and no attachment is lost; None without a depth.
        Source: AVDC nomenclature, Periodontal Disease."""
        if self.depth_mm is None:
            return None
        if not self.deeper_than_normal:
            return "sulcus"
        return "pocket" if self.beyond_normal else "pseudopocket"

    @property
    def margin_unclear(self) -> bool:
        """Whether both a recession and an enlargement are charted here, of which only one can
        hold (source: AVDC nomenclature: the margin stands apical or coronal to the junction)."""
        return bool(self.recession_mm and self.enlargement_mm)

    @property
    def deeper_than_normal(self) -> bool:
        """Whether the depth alone is beyond the species' normal sulcus."""
        return self.depth_mm is not None and self.depth_mm > self.normal_most_mm

    def where(self) -> str:
        """Return the place in words: "mesial", or "site not stated"."""
        return self.place or "site not stated"


@dataclass(frozen=True)
class ToothAttachment:
    """The sites of one tooth that were measured, in alphabetical order of their places, the one
    without a site first."""

    tooth: int
    sites: tuple[SiteAttachment, ...]

    @property
    def worst(self) -> SiteAttachment | None:
        """The site with the greatest loss, the first of equals; None where no loss is known."""
        known = [site for site in self.sites if site.loss_mm is not None]
        return max(known, key=lambda site: site.loss_mm or 0, default=None)

    @property
    def deepest(self) -> SiteAttachment | None:
        """The site with the greatest probing depth, the first of equals; None without one."""
        probed = [site for site in self.sites if site.depth_mm is not None]
        return max(probed, key=lambda site: site.depth_mm or 0, default=None)

    @property
    def worst_lost(self) -> SiteAttachment | None:
        """The worst of the sites where attachment is lost (`beyond_normal`)."""
        lost = [site for site in self.sites if site.beyond_normal]
        return max(lost, key=lambda site: site.loss_mm or 0, default=None)

    @property
    def pseudopockets(self) -> tuple[SiteAttachment, ...]:
        """The sites with a pseudopocket."""
        return tuple(site for site in self.sites if site.pocket == "pseudopocket")

    @property
    def no_loss(self) -> bool:
        """Whether depths were charted and attachment is lost nowhere."""
        return self.deepest is not None and self.worst_lost is None


def attachment_of(tooth: Tooth) -> ToothAttachment:
    """Return the attachment of a tooth, site by site."""
    measured: dict[str | None, dict[str, float]] = {}
    for kind in _MEASURES:
        for finding in tooth.of(kind):
            if (value := number_of(finding)) is not None:
                site = measured.setdefault(same_place(finding.site), {})
                site[kind] = max(value, site.get(kind, value))
    most = tooth.anatomy.normal_probing_depth_mm.most
    sites = (
        SiteAttachment(
            tooth=tooth.number,
            place=place,
            depth_mm=values.get("pocket"),
            recession_mm=values.get("recession"),
            enlargement_mm=values.get("enlargement"),
            normal_most_mm=most,
        )
        for place, values in measured.items()
    )
    return ToothAttachment(tooth.number, tuple(sorted(sites, key=lambda site: site.place or "")))


def attachment(chart: Chart, tooth: int) -> ToothAttachment:
    """Return the attachment of the tooth of that number, without sites where none was charted."""
    return attachment_of(tooth_in(chart, tooth))
