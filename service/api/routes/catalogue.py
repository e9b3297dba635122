"""The knowledge table: crops, machine classes, symptoms, sources, revision."""

from typing import Annotated

from fastapi import APIRouter, Path, Response

from service.api import answers_catalogue as out
from service.api.declaring import cacheable
from service.api.present_catalogue import (
    present_crop,
    present_crops,
    present_knowledge,
    present_machine_classes,
    present_sources,
)
from service.api.present_symptoms import present_symptoms
from service.api.reader import AnyReader, reply
from service.api.strict_route import StrictRoute

router = APIRouter(prefix="/v1", tags=["knowledge"], route_class=StrictRoute)


@router.get(
    "/crops",
    operation_id="listCrops",
    summary="Crops, their names, and what is covered for each",
    response_model=out.CropList,
    responses=cacheable(),
)
async def list_crops(reader: AnyReader) -> Response:
    """Every crop of the table with its aliases, as a user types them, and an honest coverage per task."""
    return reply(reader, present_crops(reader))


@router.get(
    "/crops/{crop}",
    operation_id="getCrop",
    summary="Everything the table holds on one crop",
    response_model=out.CropAnswer,
    responses=cacheable(),
)
async def get_crop(
    reader: AnyReader,
    crop: Annotated[str, Path(description="Id, name, alias or EPPO code.", examples=["wheat"])],
) -> Response:
    """Names, physics, moisture window, targets, rows and responses, each figure with its source and mark."""
    return reply(reader, present_crop(reader.table.crop(crop), reader))


@router.get(
    "/machine-classes",
    operation_id="listMachineClasses",
    summary="Machine classes and the dimensions taken where you give none",
    response_model=out.MachineClassList,
    responses=cacheable(),
)
async def list_machine_classes(reader: AnyReader) -> Response:
    """Threshing principles, size bands, default dimensions and sieve designs."""
    return reply(reader, present_machine_classes(reader))


@router.get(
    "/symptoms",
    operation_id="listSymptoms",
    summary="Symptoms that the next adjustment takes, and where to look first",
    response_model=out.SymptomList,
    responses=cacheable(),
)
async def list_symptoms(reader: AnyReader) -> Response:
    """What can be reported as wrong, where a person looks first, second signs of its cause, and what grades mean."""
    return reply(reader, present_symptoms(reader))


@router.get(
    "/sources",
    operation_id="listSources",
    summary="Every source of the table",
    response_model=out.SourceList,
    responses=cacheable(),
)
async def list_sources(reader: AnyReader) -> Response:
    """Who, what, when and where, and whether the page itself was read."""
    return reply(reader, present_sources(reader))


@router.get(
    "/knowledge",
    operation_id="getKnowledge",
    summary="Revision of the table, and how its figures are known",
    response_model=out.KnowledgeAnswer,
    responses=cacheable(),
)
async def get_knowledge(reader: AnyReader) -> Response:
    """Revision, digest, and for each crop how many figures were read, recalled or worked out."""
    return reply(reader, present_knowledge(reader))
