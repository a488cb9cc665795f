from finmeasure.errors import FinmeasureError as FinmeasureError
from finmeasure.errors import NotFound as NotFound
from finmeasure.exchange.landmarks import read_landmarks as read_landmarks
from finmeasure.exchange.outlines import read_outlines as read_outlines
from finmeasure.fins.records import FinEdge as FinEdge
from finmeasure.landmarks.records import BodyForm as BodyForm
from finmeasure.landmarks.scheme import body_forms as body_forms
from finmeasure.measurements.definitions import MEASURES as MEASURES
from finmeasure.measurements.definitions import MeasureDefinition as MeasureDefinition
from finmeasure.measurements.measure import measure_reading as measure_reading
from finmeasure.measurements.records import Measures as Measures
from finmeasure.photo.reading import read_photo as read_photo
from finmeasure.photo.record import Photo as Photo
from finmeasure.proposals.propose import Proposal as Proposal
from finmeasure.proposals.propose import propose as propose
from finmeasure.quantity import Measure as Measure
from finmeasure.reading import Landmark as Landmark
from finmeasure.reading import Outline as Outline
from finmeasure.reading import Reading as Reading
from finmeasure.scale.calibration import Scale as Scale
from finmeasure.scale.find import find_scale as find_scale
from finmeasure.scale.request import ScaleRequest as ScaleRequest
from finmeasure.study.store import Study as Study

__version__: str
