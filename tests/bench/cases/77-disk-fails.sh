# SPDX-License-Identifier: MIT
# The disk fails in mid-recording, as real ones do: made read-only by the kernel (where
# fsync() goes on saying 0), and write errors that abort the journal. A file system in a file (ext4 on a loop device), whose own
# disk can be filled so that writing to the device fails.
for module in mbcache crc16 crc32c_generic jbd2 ext4 loop; do insmod /modules/$module.ko; done
mkdir room sessions
mount -t tmpfs -o size=24m room room
truncate -s 64M room/image
mke2fs -q -t ext4 -J size=4 -E lazy_itable_init=0,lazy_journal_init=0 room/image
mount -t ext4 -o loop,errors=remount-ro room/image sessions

read_only() {
	grep -q '/sessions ext4 ro' /proc/mounts
}

# frames ID NUMBER: sends them and waits until they have been heard.
heard=0
frames() {
	cangen vcan0 -g "${3:-2}" -I "$1" -L 8 -D i -n "$2"
	heard=$((heard + $2))
	wait_for 20 status_says "listening, $heard frames, 0 lost"
}

recorded() { # recorded ID
	zstdcat "$path"/frames-*.log.zst 2> /dev/null | grep -c " $1#"
}

ip link add vcan0 type vcan # no emulated controller, which loses frames under load
ip link set vcan0 up
start_daemon -i vcan0
path=$(ls -d sessions/2*)
frames 2A0 100
nodoff mark note before > /dev/null

# ---- the kernel makes it read-only ----
sleep 1.5
echo u > /proc/sysrq-trigger
wait_for 10 read_only
frames 2A1 100
check "it is said within seconds that the disk is read-only" \
	wait_for 5 status_says 'cannot be written: Read-only file system'
check "in the log, too" grep -q 'cannot be written: Read-only file system' daemon.log
nodoff mark note "while read-only" > said 2>&1
check "a mark is refused" test $? -ne 0
check "with the reason" grep -q 'not on the disk: Read-only file system' said
check "what was recorded opens meanwhile" nodoff analyse "$path"
check "with all that was synced" equal "$(recorded 2A0)" 100
frames 2A2 7000 0.2
check "it goes on listening" status_says "vcan0: listening, $heard frames, 0 lost"
mount -o remount,rw sessions
check "it goes on by itself when the disk is writable" \
	wait_for 10 grep -q 'is written again' daemon.log
frames 2A3 100
check "marks are taken again" nodoff mark note after
check "what was held in memory meanwhile is there" equal "$(recorded 2A1)" 100
check "nothing is there twice" test "$(recorded 2A2)" -le 7000
check "what there was no room for is told" grep -q 'gap all' "$path/journal.log"
path=$(nodoff record stop | tail -1)
check "what came afterwards is there" equal "$(recorded 2A3)" 100
check "frames and losses make the whole" equal "$(($(recorded 2A2) + $(zstdcat \
	"$path"/frames-*.log.zst | sed -n 's/^DROPCOUNT: dropped \([0-9]*\) .*/\1/p' |
	awk '{ sum += $1 } END { print sum + 0 }')))" 7000
check "the session opens" nodoff analyse "$path"

# ---- writes fail, and the file system gives up: nothing but unmounting it helps ----
nodoff record start disk > /dev/null
path=$(ls -d sessions/*-disk)
frames 4A0 100
nodoff mark note before > /dev/null
sleep 1.5
dd if=/dev/zero of=room/filler bs=64k > /dev/null 2>&1
frames 4A1 1000 1
check "it is said within seconds" wait_for 15 status_says 'cannot be written: '
check "in the log, too" grep -qE 'cannot be written: (Input/output|Read-only)' daemon.log
wait_for 15 read_only
check "what was synced opens" nodoff analyse "$path"
nodoff record stop > said 2>&1
check "that the end is missing is said" grep -q 'the end could not be written' said
check "the recording has ended all the same" status_says '^not recording'
rm room/filler
check "nothing keeps the disk busy" umount sessions
e2fsck -p room/image > said 2>&1
mount -t ext4 -o loop room/image sessions
check "what was synced is there after the check of the disk" equal "$(recorded 4A0)" 100
check "the mark, too" grep -q 'note before' "$path/journal.log"
check "the session opens" nodoff analyse "$path"
check "a new recording begins" nodoff record start again
frames 4A2 100
path=$(nodoff record stop | tail -1)
check "and holds what comes" equal "$(recorded 4A2)" 100
stop_daemon
umount sessions
umount room
ip link del vcan0
finish
