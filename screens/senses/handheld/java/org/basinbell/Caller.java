package org.basinbell;

import android.app.Notification;
import android.app.NotificationManager;
import android.app.PendingIntent;
import android.content.BroadcastReceiver;
import android.content.Context;
import android.content.Intent;
import java.io.BufferedReader;
import java.io.File;
import java.io.FileInputStream;
import java.io.IOException;
import java.io.InputStreamReader;
import java.nio.charset.StandardCharsets;

/**
 * Shows what was prepared while the app was in front; decides nothing.
 *
 * An alarm brings its whole notice with it. A restart or an update of the app brings none: then the mark of scopes
 * under way, two lines of text beside the record, says whether and what to show.
 */
public final class Caller extends BroadcastReceiver {
    static final String NOTICE = "notice";
    static final String NUMBER = "number";
    static final String MARK = "basinbell/under-way";
    static final String CHANNEL = "ready.11";
    static final int RESTARTED = 1_000_000;

    @Override
    public void onReceive(Context context, Intent intent) {
        NotificationManager notices = (NotificationManager) context.getSystemService(Context.NOTIFICATION_SERVICE);
        Notification prepared = intent.getParcelableExtra(NOTICE);
        if (prepared != null) {
            notices.notify(intent.getIntExtra(NUMBER, 0), prepared);
            return;
        }
        if (intent.getAction() == null) {
            return;
        }
        String[] words = underWay(new File(context.getFilesDir(), MARK));
        if (words == null) {
            return;
        }
        Intent open = context.getPackageManager().getLaunchIntentForPackage(context.getPackageName());
        notices.notify(
                RESTARTED,
                new Notification.Builder(context, CHANNEL)
                        .setContentTitle(words[0])
                        .setContentText(words[1])
                        .setSmallIcon(context.getApplicationInfo().icon)
                        .setContentIntent(PendingIntent.getActivity(context, 0, open, PendingIntent.FLAG_IMMUTABLE))
                        .setAutoCancel(true)
                        .build());
    }

    /** Gives the two lines of the mark, or null where there is none or it can't be read. */
    private static String[] underWay(File mark) {
        if (!mark.isFile()) {
            return null;
        }
        try (BufferedReader lines =
                new BufferedReader(new InputStreamReader(new FileInputStream(mark), StandardCharsets.UTF_8))) {
            String title = lines.readLine();
            String text = lines.readLine();
            return title == null || text == null ? null : new String[] {title, text};
        } catch (IOException error) {
            return null;
        }
    }
}
