# What a process can do here: each thing that it could, by its name, one a line. The files may be written by everybody, so
# that only what a unit forbids is in the way.
can() {
    name=$1
    shift
    if "$@" >/dev/null 2>&1; then echo "$name"; fi
}
writes() { can "write-$1" sh -c "echo more >>$2"; }
opens() { can "open-$1" perl -e 'socket(ONE, $ARGV[0], $ARGV[1], $ARGV[2]) or die' "$2" "$3" "$4"; }

can read-journal head -c 100 /var/lib/quietcuff/journal.sqlite
can write-journal sh -c 'touch /var/lib/quietcuff/tried && rm /var/lib/quietcuff/tried'
can read-settings cat /etc/quietcuff/letter
writes settings /etc/quietcuff/letter
writes programs /usr/lib/letter
can read-home cat /home/somebody/letter
writes home /home/somebody/letter
writes backups /srv/tried/letter
writes elsewhere /var/lib/tried/letter
can see-others test -d /proc/1
can ask-the-bus perl -e 'socket(BUS, 1, 1, 0) && connect(BUS, pack("S a*", 1, "/run/dbus/system_bus_socket\0")) or die'
# Address families as <sys/socket.h> numbers them: AF_INET, AF_BLUETOOTH (a channel of L2CAP), AF_NETLINK (its events of
# devices), AF_PACKET (everybody's packets).
opens internet 2 1 0
opens bluetooth 31 5 0
opens kernel 16 3 15
opens packets 17 3 0
can make-namespace unshare --user true
can read-passwords cat /etc/shadow
can read-memory head -c 1 /dev/mem
exit 0
