//! The one place that borrows the serial port's descriptor. Nothing else in the workspace is unsafe.
#![allow(unsafe_code)]

use std::os::fd::{AsRawFd, BorrowedFd};

/// The descriptor of an open port, for as long as the port is borrowed.
pub(in crate::serial) fn descriptor(port: &serialport::TTYPort) -> BorrowedFd<'_> {
    // SAFETY: the port owns the descriptor and closes it only when dropped, and the borrow keeps it from being
    // dropped for as long as the result lives.
    unsafe { BorrowedFd::borrow_raw(port.as_raw_fd()) }
}
