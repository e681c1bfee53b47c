#!/bin/busybox sh
# SPDX-License-Identifier: MIT
# First process of the bench's virtual machine: loads the CAN drivers, runs
# every case, and switches the machine off. can0 and can1 share one bus, can2
# and can3 another; can4 and can5, which know CAN FD and share a third, come with the last
# case. The words of kernel option "bench=" select cases by name.
/bin/busybox mkdir -p /usr/bin /sbin /usr/sbin
/bin/busybox --install -s /bin
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t devtmpfs dev /dev
mkdir -p /dev/pts /dev/shm /run
ln -s /proc/self/fd /dev/fd
mount -t devpts pts /dev/pts
mount -t tmpfs run /run
ln -sf ip.iproute2 /bin/ip
export PATH=/bin HOME=/tmp TERM=screen LANG=C.UTF-8 ASAN_OPTIONS=detect_leaks=0
echo 3 > /proc/sys/kernel/printk
for module in can can-dev can-raw vcan sja1000 kvaser_pci slcan; do
	insmod /modules/$module.ko || echo "not ok - module $module"
done
patience=$(sed -n 's/.*patience=\([0-9]*\).*/\1/p' /proc/cmdline)
only=$(sed -n 's/.*bench=\([^ ]*\).*/\1/p' /proc/cmdline)
for case in /bench/cases/*.sh; do
	name=$(basename "$case" .sh)
	case ",$only," in ,,|*,$name,*|*,${name#*-},*) ;; *) continue ;; esac
	echo "# case $name at $(cut -d' ' -f1 /proc/uptime) s"
	rm -rf /tmp/work; mkdir -p /tmp/work; cd /tmp/work
	timeout $((120 * ${patience:-1})) bash /bench/guest.sh "$case" < /dev/null 2>&1 \
		|| echo "not ok - $name ended with status $?"
done
echo "# bench ended at $(cut -d' ' -f1 /proc/uptime) s"
poweroff -f
