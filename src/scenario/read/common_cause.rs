//! `[common_cause]` as it is resolved.

use super::Fields;
use crate::scenario::common_cause::CommonCause;

pub(super) fn common_cause(fields: &Fields) -> Option<CommonCause> {
    Some(CommonCause { floor: fields.number("floor")?, beta: fields.number("beta")? })
}
