//! When and whose: from decoded measurements to readings.
