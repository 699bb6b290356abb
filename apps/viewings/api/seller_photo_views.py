"""Views of photos from sellers."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate
from apps.groups.rules import Action, require_adder_or_organiser
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, person_of, versioned_response
from apps.viewings.api.media_serializers import SellerPhotoBody, SellerPhotoSerializer
from apps.viewings.api.media_views import FORM, UploadView, link_variant
from apps.viewings.media import selectors
from apps.viewings.media.seller_photos import seller_photo_add, seller_photo_remove


def remover(person: Person, named: Mapping[str, Any]) -> None:
    photo = selectors.seller_photo_for(person, named["seller_photo_id"])
    require_adder_or_organiser(person, Action.ADD, photo.group_id, photo.added_by_id)


class SellerPhotosView(UploadView):
    scopes = {"GET": "lists:read", "POST": "lists:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}
    query_serializer = PageQuery
    largest_bytes = "PHOTO_LARGEST_BYTES"

    @extend_schema(operation_id="seller_photos_list", responses=page_of(SellerPhotoSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The pictures of a candidate from her seller."""
        candidate = candidate_for(self.person, candidate_id)
        photos = selectors.seller_photos_visible(self.person).filter(candidate=candidate)
        return page(request, photos, self.query, SellerPhotoSerializer)

    @extend_schema(
        operation_id="seller_photos_create",
        request={FORM: SellerPhotoBody},
        responses={201: SellerPhotoSerializer, 200: SellerPhotoSerializer},
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Add a picture from the seller, the broker or an advert to a candidate.

        It is no finding, and no result depends on it. The rest is as for a submission's pictures.
        """
        photo, is_new = seller_photo_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(SellerPhotoBody),
        )
        return answer(request, photo.pk, status=201 if is_new else 200)


class SellerPhotoView(View):
    scopes = {"GET": "lists:read", "DELETE": "lists:write"}
    needs = {"DELETE": remover}

    @extend_schema(operation_id="seller_photos_read", responses=SellerPhotoSerializer)
    def get(self, request: Request, seller_photo_id: uuid.UUID) -> Response:
        """One picture from a seller: its state, and links that work for a limited time."""
        return answer(request, seller_photo_id)

    @extend_schema(operation_id="seller_photos_remove", request=None, responses={204: None})
    def delete(self, request: Request, seller_photo_id: uuid.UUID) -> Response:
        """Remove a picture that you added; an organiser can remove any."""
        photo = selectors.seller_photo_for(self.person, seller_photo_id)
        seller_photo_remove(
            photo=photo, by=self.person, expected_version=self.expected_version(photo)
        )
        return no_content()


def answer(request: Request, photo_id: uuid.UUID, *, status: int = 200) -> Response:
    photo = selectors.seller_photo_for(person_of(request), photo_id)
    data = SellerPhotoSerializer(photo, context={"request": request}).data
    variant = link_variant(photo, person_of(request))
    return versioned_response(photo, data, status=status, variant=variant)
