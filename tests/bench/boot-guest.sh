#!/bin/bash
# SPDX-License-Identifier: MIT
# Runs in the machine of run-boot.sh at every start, and goes on where the start before ended.
# can0 is another unit of the car, can1 the adapter.
exec 2>&1
here=/bench
stage=$(cat $here/stage 2> /dev/null || echo 1)

case_name=boot
. $here/words.sh

talk() { # frames of another unit, for so many seconds
	ip link set can0 up type can bitrate 500000 restart-ms 100 2> /dev/null
	cangen can0 -g 20 -I i -L 8 -n $((50 * $1))
}
sessions() { ls -d /var/lib/nodoff/20*/ 2> /dev/null; }

first() {
	check "the package is installed" dpkg -i $here/libnodoff0_*.deb $here/nodoff_*.deb
	check "the service is off" contains "$(systemctl is-enabled nodoffd)" disabled
	echo 'NODOFFD_OPTIONS="-i can1=500000"' > /etc/default/nodoff
	check "it can be enabled" systemctl enable nodoffd
	check "and started" systemctl start nodoffd
	check "it runs, without an adapter and says so" wait_for 30 status_says 'can1: not plugged in'
	echo "@plug"
	check "an adapter is plugged in" wait_for 30 test -e /sys/class/net/can1
	systemctl is-active nodoffd || journalctl -u nodoffd --no-pager | tail -n 5
	check "udev makes a unit of it" wait_for 30 systemctl is-active sys-subsystem-net-devices-can1.device
	check "and it is listened to" wait_for 30 status_says 'can1: listening'
	check "listen-only" contains "$(ip -d link show can1)" LISTEN-ONLY
	check "systemd finds little that it could do" contains \
		"$(systemd-analyze security --no-pager nodoffd | tail -1)" ': (0|1|2)\.[0-9] OK'
	nodoff record start 'before a reboot' > /dev/null
	talk 5
	check "frames are heard" status_says 'can1: listening, [1-9]'
	echo 2 > $here/stage
	systemctl reboot
}

second() {
	local session
	session=$(sessions)
	check "after the reboot it runs again" wait_for 30 systemctl is-active nodoffd
	check "the recording has its end" contains "$(cat "$session/session.txt")" '^ended: '
	check "and its frames" contains "$(nodoff frames --count "$session"frames-*)" '^frames +250$'
	check "the adapter is listened to" wait_for 30 status_says 'can1: listening'
	nodoff record start 'before a power cut' > /dev/null
	talk 5
	check "the mark is on the disk when it is said" nodoff mark locked
	talk 15 # what waits in memory is written every few seconds
	echo 3 > $here/stage
	sync $here/stage
	echo "@cut"
	sleep 600
}

third() {
	local session
	session=$(sessions | tail -1)
	check "after the power cut it runs again" wait_for 30 systemctl is-active nodoffd
	check "the recording opens" nodoff session show "$session"
	check "the mark is there" contains "$(cat "$session/journal.log")" ' locked'
	check "the frames but for the last seconds" test "$(nodoff frames --count "$session"frames-* | awk '$1 == "frames" { print $2 }')" -ge 500
	check "the answer can be had" nodoff analyse "$session"
	check "a new recording begins" nodoff record start 'after it'
	echo "@end"
	sleep 600
}

case $stage in
1) first ;;
2) second ;;
*) third ;;
esac
