# SPDX-License-Identifier: MIT
# Adapters on a serial line, the cheapest: the kernel's slcan talks to a program that plays one
# and does what the good and the bad of them do. Their states, error counters and error reports
# are what the emulated controllers of the other cases cannot show.
line=0
# plug_in ARGUMENT...: leaves the interface's name in $name; its orders go to descriptor 5.
plug_in() {
	line=$((line + 1))
	mkfifo orders$line
	serial-adapter "$@" < orders$line > told$line 2>&1 &
	background+=("$!")
	exec 5> orders$line
	wait_for 5 test -s told$line
	name=$(head -1 told$line)
}
orders() { printf '%s\n' "$@" >&5; }
told() { grep -c "^told $1$" told$line; }

plug_in 500000
start_daemon -i "$name=500000"
wait_for 5 status_says "$name: listening"
check "it is opened to listen only" equal "$(sed -n 's/^told //p' told1 | tr '\n' ' ')" "C S6 L "
check "the kernel says so" contains "$(ip -d link show "$name")" '<LISTEN-ONLY>'
check "record status shows it" status_says '  500000 bit/s .*; listen-only; error-active'
check "and what a serial line hides" status_says 'on a serial line: that it obeys'
orders t1232AABB T18FEF1001FF r1238
wait_for 5 status_says "$name: listening, 3 frames"
check "it is heard" status_says "$name: listening, 3 frames, 0 lost, 0 error"
orders "noise 2000" "say " t1242CCDD
wait_for 5 status_says "$name: listening, [4-9] frames"
check "noise on the line does not end it" status_says "$name: listening, [4-9] frames"
orders "say sw128010"
wait_for 5 status_says 'error-warning'
check "a state with errors is shown" status_says '; listen-only; error-warning'
orders "say sb256256"
wait_for 5 status_says "$name: bus-off"
check "bus-off is noticed" status_says "$name: bus-off"
check "and that nobody listens is in the journal" wait_for 2 grep -q " not listening $name\$" sessions/*/journal.log
orders "say sa000000"
orders unplug
wait_for 5 status_says "$name: not plugged in"
check "pulled out, it is noticed" status_says "$name: not plugged in"
first=$name
plug_in 500000
check "the same name comes again" equal "$name" "$first"
wait_for 5 status_says "$name: listening"
check "plugged in again, it is opened to listen only again" equal "$(told L) $(told O)" "1 0"
orders stall
orders unplug # it takes nothing, and is gone
wait_for 5 status_says "$name: not plugged in"
stop_daemon

# It takes nothing from the start: the kernel waits a second for it.
plug_in 500000
orders stall
sleep 0.3
start_daemon -i "$name=500000"
wait_for 5 status_says 'does not answer'
check "one that is stuck is said, with what to do" status_says \
	"$name: switched off.*does not answer: unplug it and plug it in again"
stop_daemon
orders unplug
wait_for 5 test ! -e "/sys/class/net/$name"

# A rate that the language of these adapters lacks.
plug_in 83333
start_daemon -i "$name=83333"
check "a bitrate that it lacks is said" status_says "$name: switched off.*cannot do that bitrate"
check "it was told nothing" equal "$(told '.*')" 0
stop_daemon
orders unplug
wait_for 5 test ! -e "/sys/class/net/$name"

# Opened by somebody else to take part: not used until it is switched off.
plug_in 500000
ip link set "$name" up type can bitrate 500000
start_daemon -i "$name=500000"
check "one that was opened to acknowledge is not used" status_says "$name: not used.*acknowledges"
ip link set "$name" down
wait_for 5 status_says "$name: listening"
check "switched off, it is set up as was said" equal "$(told O) $(told L)" "1 1"
stop_daemon
check "left as it was set" contains "$(ip -d link show "$name")" '<LISTEN-ONLY>'
ip link set "$name" down
orders unplug
wait_for 5 test ! -e "/sys/class/net/$name"

# A wrong bitrate shows by its error reports, and the right one is found.
plug_in 250000
(while sleep 0.02; do orders t1232AABB; done) &
sender=$!
background+=("$sender")
start_daemon -i "$name=500000"
reports() { contains "$(nodoff record status)" 'listening, 0 frames, 0 lost, [1-9]|listening, [0-9]+ frames, 0 lost, [1-9][0-9]+ error'; }
wait_for 5 reports
check "at a wrong bitrate there are only error reports" reports
stop_daemon
ip link set "$name" down
nodoff bitrate "$name" --seconds 1 500000 250000 > found
check "which a search tells from the right one" contains "$(tr '\n' ' ' < found)" \
	"500000 bit/s: 0 frames, [1-9][0-9]* error reports +250000 bit/s: [1-9][0-9]* frames, 0 error reports $name runs at 250000"
check "it never took part" equal "$(told O)" 0
kill "$sender"
orders unplug
finish
