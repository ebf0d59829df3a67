//! Cycling Power Control Point: requests and responses.

use crate::table::{BY_HAND, LIBRARY_TESTS, Vector, check, ids_of, vector};
use sensor::cycling_power::control::{
    ContentMask, EnhancedFailure, FailureReason, Offset, Request, Response, ResponseParameter,
    ResultCode,
};

/// The vectors of this file.
pub fn ids() -> Vec<&'static str> {
    [ids_of(&request_vectors()), ids_of(&response_vectors())].concat()
}

fn request_vectors() -> Vec<Vector<Request>> {
    vec![
        vector(
            "C1",
            "04 5E01",
            Request::SetCrankLength {
                crank_length_mm: 175.0,
            },
            LIBRARY_TESTS,
        ),
        vector("C6", "10", Request::StartEnhancedOffset, BY_HAND),
        vector(
            "C8",
            "08 F401",
            Request::SetChainWeight {
                chain_weight_g: 500,
            },
            BY_HAND,
        ),
        vector(
            "C9",
            "0D 0B01",
            Request::MaskContent(ContentMask(0x010B)),
            BY_HAND,
        ),
    ]
}

#[test]
fn requests() {
    let odd = check(&request_vectors(), Request::decode, Request::encode, &[]);
    assert!(odd.is_empty(), "{odd:?}");
}

fn response_vectors() -> Vec<Vector<Response>> {
    vec![
        vector(
            "C2",
            "20 05 01 5901",
            Response {
                request_op: 0x05,
                result: ResultCode::Success,
                parameter: ResponseParameter::CrankLength {
                    crank_length_mm: 172.5,
                },
            },
            BY_HAND,
        ),
        vector(
            "C3",
            "20 0C 01 3400",
            Response {
                request_op: 0x0C,
                result: ResultCode::Success,
                parameter: ResponseParameter::Offset(Offset { raw: Some(52) }),
            },
            BY_HAND,
        ),
        vector(
            "C4",
            "20 0C 01 FFFF",
            Response {
                request_op: 0x0C,
                result: ResultCode::Success,
                parameter: ResponseParameter::Offset(Offset { raw: None }),
            },
            BY_HAND,
        ),
        vector(
            "C5",
            "20 0C 04",
            Response {
                request_op: 0x0C,
                result: ResultCode::OperationFailed,
                parameter: ResponseParameter::None,
            },
            BY_HAND,
        ),
        vector(
            "C7",
            "20 10 04 01",
            Response {
                request_op: 0x10,
                result: ResultCode::OperationFailed,
                parameter: ResponseParameter::EnhancedFailure(EnhancedFailure {
                    reason: FailureReason::IncorrectPosition,
                    manufacturer: None,
                }),
            },
            BY_HAND,
        ),
    ]
}

#[test]
fn responses() {
    let odd = check(&response_vectors(), Response::decode, Response::encode, &[]);
    assert!(odd.is_empty(), "{odd:?}");
}
