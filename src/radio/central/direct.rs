//! Whom we wait for with a socket of our own, and what becomes of their visits in the report.

use super::super::bus::{BluezDevice, Objects};
use super::super::line::LinkBrought;
use super::super::waiting::{LinkEvent, Waiting, WaitingTold};
use super::super::way::Way;
use super::Central;
use crate::household::MonitorAddress;
use dbus::Path;

/// So many monitors are waited for at once. A controller's own list of those it answers has eight places or
/// more; a household has a few monitors.
const WAITING_MAX: usize = 16;

impl Central {
    /// Waits for every monitor that BlueZ knows on this adapter, and for no other.
    pub(super) fn wait_for_all(&mut self, objects: &Objects, adapter: &Path<'static>) {
        let own = objects.adapters.iter().find(|own| own.path == *adapter);
        let Some(own) = own.filter(|_| self.way == Way::Direct) else {
            return;
        };
        let wanted: Vec<BluezDevice> = self
            .enrolled
            .keys()
            .filter_map(|address| objects.device(adapter, address))
            .take(WAITING_MAX)
            .cloned()
            .collect();
        self.waiting
            .retain(|_, waiting| wanted.iter().any(|device| waiting.is_for(device, own)));
        for device in &wanted {
            if let Some(waiting) = self.waiting.get(&device.address) {
                waiting.try_again();
            } else if let Some(line) = self.lines.get(&device.address) {
                let (bus, tell) = (self.bus.clone(), self.news.0.clone());
                let waiting = Waiting::begin((device, own), line.clone(), bus, self.config.serve_time, tell);
                self.waiting.insert(device.address.clone(), waiting);
            }
        }
    }

    /// Whether BlueZ is to keep its hands off this monitor.
    pub(super) fn is_ours(&self, monitor: &MonitorAddress) -> bool {
        self.waiting.get(monitor).is_some_and(Waiting::is_ours)
    }

    /// A link that BlueZ had has ended.
    pub(super) fn is_free(&self, monitor: &MonitorAddress) {
        if let Some(waiting) = self.waiting.get(monitor) {
            waiting.try_again();
        }
    }

    /// A waiting task has told something.
    pub(super) fn told(&mut self, told: WaitingTold) {
        let WaitingTold { monitor, what } = told;
        match what {
            LinkEvent::Came => {
                tracing::debug!(%monitor, "connected directly");
                let at = self.edge.now().at;
                self.tell_monitor(&monitor, |report| {
                    report.connected = true;
                    report.connections += 1;
                    report.last_seen = Some(at);
                    report.bearer = Some(Way::Direct.name().to_owned());
                    report.not_direct = None;
                });
            }
            LinkEvent::Went(ended) => {
                let good = ended.good();
                let LinkBrought { values, users, .. } = ended;
                tracing::info!(%monitor, values, "disconnected");
                self.tell_monitor(&monitor, |report| {
                    report.connected = false;
                    report.values += values;
                    report.users = users.or(report.users.take());
                    if good {
                        report.problem = None;
                    }
                });
            }
            LinkEvent::NotDirect(why) => {
                self.tell_monitor(&monitor, |report| report.not_direct = Some(why));
                let linked = self
                    .links
                    .iter_mut()
                    .find(|(_, link)| link.connected && *link.line.monitor() == monitor);
                if let Some((id, link)) = linked {
                    link.patience.use_at_once();
                    let id = id.clone();
                    self.answer(&id);
                }
            }
            LinkEvent::Bond(why) => self.bond_is_lost(&monitor, why),
        }
    }
}
