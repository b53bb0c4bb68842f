"""What the sugarhouse asks, in the operation's units, with what is wrong said at the field."""

from apps.sugarhouse.forms.batches import BatchForm
from apps.sugarhouse.forms.sap import SAP_FORMS, SapForm, SapOutForm, SugarForm
from apps.sugarhouse.forms.tanks import DipForm, TankForm

__all__ = ["SAP_FORMS", "BatchForm", "DipForm", "SapForm", "SapOutForm", "SugarForm", "TankForm"]
