//! The app in a browser. One module for page and worker: the worker holds the book and the engine, the page draws what it
//! says and hands it touches. Outside of a browser there is nothing to run; `make app` builds it.

#[cfg(target_arch = "wasm32")]
mod browser;
#[cfg(target_arch = "wasm32")]
mod keeping;
#[cfg(target_arch = "wasm32")]
mod page;
#[cfg(target_arch = "wasm32")]
mod sharing;
#[cfg(target_arch = "wasm32")]
mod told;
#[cfg(target_arch = "wasm32")]
mod trial;
#[cfg(target_arch = "wasm32")]
mod worker;

#[cfg(target_arch = "wasm32")]
fn main() {
    if browser::in_worker() {
        worker::start();
    } else {
        page::start();
    }
}

#[cfg(not(target_arch = "wasm32"))]
fn main() {}
