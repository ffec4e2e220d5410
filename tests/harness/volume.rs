//! A disk that a test fills up or makes read-only.

use std::fs;
use std::path::Path;
use std::process::Command;

/// A volume of its own for a test, unmounted afterwards. Only root can have one, and not in every container.
pub(crate) struct Volume<'a>(&'a Path);

impl<'a> Volume<'a> {
    pub(crate) fn mount(at: &'a Path, options: &str) -> Option<Self> {
        fs::create_dir_all(at).unwrap();
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", options, "none"])
            .arg(at)
            .output()
            .is_ok_and(|ran| ran.status.success());
        mounted.then_some(Self(at))
    }

    pub(crate) fn grow(&self, options: &str) {
        let done = Command::new("mount")
            .args(["-o", &format!("remount,{options}")])
            .arg(self.0)
            .status();
        assert!(done.unwrap().success());
    }
}

impl Drop for Volume<'_> {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.0).status();
    }
}
