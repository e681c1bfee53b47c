#!/bin/bash
# SPDX-License-Identifier: MIT
# What the cases share. A case is a bash script sourced by this one in an
# empty directory; it calls `check` for every statement it makes, which prints
# one "ok" or "not ok" line. Its last line is `finish`, without which it
# counts as broken.
case_name=$(basename "$1" .sh)
finished=no
background=()

. /bench/words.sh

# leave_out WHY: ends a case that cannot be tried here.
leave_out() {
	echo "left out: $case_name: $1"
	finished=yes
	exit 0
}

# The controllers as a case finds them: down, default modes.
reset_controllers() {
	local i
	for i in can0 can1 can2 can3 can4 can5; do
		ip link set $i down 2> /dev/null
		ip link set $i type can listen-only off loopback off restart-ms 0 2> /dev/null
		ip link set $i type can fd off 2> /dev/null
	done
}

# sender_up IFACE: an ordinary node that acknowledges and sends.
sender_up() {
	ip link set "$1" type can bitrate "${2:-500000}" restart-ms 100
	ip link set "$1" txqueuelen 1000 up
}

# counter IFACE NAME: tx_packets, rx_packets, tx_dropped, ...
counter() {
	cat "/sys/class/net/$1/statistics/$2"
}

# start_daemon ARGUMENT...: nodoffd with its socket in ./sock; waits until it answers.
start_daemon() {
	mkdir -p sessions
	nodoffd --socket "$PWD/sock" --sessions "$PWD/sessions" "$@" > daemon.log 2>&1 &
	daemon=$!
	background+=("$daemon")
	export NODOFF_SOCKET=$PWD/sock
	wait_for 15 nodoff record list || { echo "# the daemon does not answer:"; sed 's/^/#   /' daemon.log; }
}

stop_daemon() {
	kill -TERM "$daemon"
	wait "$daemon"
}

finish() {
	finished=yes
}

is_gone() { # PID: what is not this shell's child nobody else may have waited for yet
	[ ! -e "/proc/$1" ] || grep -q '^State:.*Z' "/proc/$1/status" 2> /dev/null
}

# No sender of this case may reach the controllers of the next.
end() {
	local pid
	for pid in "${background[@]}"; do kill -KILL "$pid" 2> /dev/null; done
	[ ${#background[@]} -eq 0 ] || wait "${background[@]}" 2> /dev/null
	for pid in "${background[@]}"; do
		wait_for 5 is_gone "$pid" || echo "not ok - $case_name: process $pid does not end"
	done
	reset_controllers
	if [ $finished = no ]; then
		echo "not ok - $case_name: broke off"
		[ -e daemon.log ] && sed 's/^/#   daemon: /' daemon.log | tail -20
	fi
	exit 0
}
trap end EXIT

reset_controllers
. "$1"
