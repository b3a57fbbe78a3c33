"""Containers."""

from app.core.limits import CELL_VOLUME_ML, CELLS_PER_TRAY
from app.language import N_
from app.services.containers import ContainerValues
from app.sheets.units import VOLUME_ML
from app.web.forms.fields import GardenForm, TextField
from app.web.forms.numbers import QuantityField, WholeNumberField


class ContainerForm(GardenForm):
    """Add or change a container."""

    name = TextField(N_("Name"), description=N_("As people call it: 72-cell tray, 9 cm pot, food box."))
    cells_per_tray = WholeNumberField(
        N_("Cells per tray"),
        CELLS_PER_TRAY,
        description=N_("How many cells, pots or boxes stand in the room of one standard tray."),
    )
    cell_volume_ml = QuantityField(N_("Mix for one cell"), VOLUME_ML, CELL_VOLUME_ML, description=N_("Filled loosely."))
    rows = WholeNumberField(
        N_("Rows"), CELLS_PER_TRAY, may_be_empty=True, description=N_("With columns, for trays whose cells have names.")
    )
    columns = WholeNumberField(N_("Columns"), CELLS_PER_TRAY, may_be_empty=True)

    def values(self) -> ContainerValues:
        """Return what was typed, once it is valid."""
        return ContainerValues(
            name=self.name.data,
            cells_per_tray=self.cells_per_tray.data,
            cell_volume_ml=self.cell_volume_ml.data,
            rows=self.rows.data,
            columns=self.columns.data,
        )
